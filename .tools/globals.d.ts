// What the scripts of static/js find in the page besides the browser's own: for the check of types alone, never served.

type Kind = "answer" | "take-back" | "start-timer" | "stop-timer" | "photo" | "finding";

/** What was pressed on the tablet, as it is kept until the shop's computer has it. */
interface NewEntry {
  kind: Kind;
  step: string;
  title: string;
  words: string;
  fields: Record<string, string>;
  file: File | null;
  url: string;
  run: string;
}

interface KeptEntry extends NewEntry {
  seq?: number;
  user: string;
  status: "waiting" | "conflict" | "refused";
  /** milliseconds since 1970, by the tablet's clock */
  made: number;
  html?: string;
  why?: string;
}

interface Entry extends KeptEntry {
  seq: number;
}

interface OwnAnswer {
  words?: string;
  outcome: string;
  entry?: Entry;
}

/** What the run has by now of this tablet. */
interface Own {
  run: string;
  ids: string[];
  answers: Record<string, OwnAnswer>;
  seen: number;
}

interface BenchStore {
  /** why the tablet cannot keep anything; empty while it can */
  problem: "" | "full" | "broken";
  add(entry: KeptEntry): Promise<number>;
  put(entry: Entry): Promise<IDBValidKey>;
  remove(seq: number): Promise<undefined>;
  everything(): Promise<Entry[]>;
  own(run: string): Promise<Own>;
  settled(entry: Entry, version?: number): Promise<void>;
  seen(run: string, version: number, whole?: boolean): Promise<void>;
}

interface PanelStep {
  kind: string;
  title: string;
  html: string;
  outcome: string;
  /** whether it can find a cause, so that a finding ends the search */
  ends: boolean;
  needs: string[];
  leads: Record<string, string>;
}

interface Panels {
  run: string;
  version: number;
  steps: Record<string, PanelStep>;
  order: string[];
  suggested: boolean;
  shell: string;
}

interface Known {
  run: string;
  panels: Panels;
  answers: Record<string, OwnAnswer>;
  unsent: Entry[];
  last: string | null;
  version: number;
}

interface Bench {
  user: string;
  state: "idle" | "sending" | "offline" | "trouble" | "signed-out" | "blocked";
  store: BenchStore;
  newId(): string;
  countsAs(value: string): string;
  mine(): Promise<Entry[]>;
  send(): Promise<void>;
  add(entry: NewEntry): Promise<Entry>;
  decide(entry: Entry, how?: { replacedBy?: KeptEntry | null }): Promise<void>;
  knownOf(run: string): Promise<Known | null>;
  nextOf(known: Known, from: string | null): string | null;
}

interface Settled {
  entry: Entry;
  next?: string;
  html: string;
}

interface HtmxDetail {
  elt: HTMLElement;
  target: HTMLElement;
  xhr: XMLHttpRequest;
  shouldSwap: boolean;
  verb: string;
  headers: Record<string, string>;
  parameters: Record<string, unknown>;
  formData?: FormData;
  /** of an answer: what asked for it */
  requestConfig?: { triggeringEvent?: Event };
}

declare const bench: Bench;

declare const htmx: {
  ajax(verb: string, url: string, context: { source: string; target: string; swap: string }): Promise<void>;
  process(element: Element): void;
  swap(target: string, html: string, how: { swapStyle: string }): void;
};

interface Window {
  bench: Bench;
  /** milliseconds by which the shop's clock is ahead of the tablet's, by what the shop said was now */
  shopSkew(now: number, fresh?: boolean): number;
}

type HtmxEvent = CustomEvent<HtmxDetail>;

interface DocumentEventMap {
  "bench:blocked": CustomEvent<Entry>;
  "bench:changed": CustomEvent<undefined>;
  "bench:kept": CustomEvent<Entry>;
  "bench:listed": CustomEvent<undefined>;
  "bench:settled": CustomEvent<Settled>;
  "bench:shown": CustomEvent<undefined>;
  "bench:timers": CustomEvent<undefined>;
  "htmx:afterSettle": HtmxEvent;
  "htmx:beforeSwap": HtmxEvent;
  "htmx:configRequest": HtmxEvent;
  "htmx:load": HtmxEvent;
  "htmx:oobBeforeSwap": HtmxEvent;
  "htmx:responseError": HtmxEvent;
}

// People click and type on elements, and what is submitted is a form.
interface MouseEvent {
  readonly target: Element;
}
interface KeyboardEvent {
  readonly target: Element;
}
interface SubmitEvent {
  readonly target: HTMLFormElement;
}

// Whatever these scripts select is HTML: no drawing is touched.
interface ParentNode {
  querySelector<K extends keyof HTMLElementTagNameMap>(selectors: K): HTMLElementTagNameMap[K] | null;
  querySelector(selectors: string): HTMLElement | null;
  querySelectorAll<K extends keyof HTMLElementTagNameMap>(selectors: K): NodeListOf<HTMLElementTagNameMap[K]>;
  querySelectorAll(selectors: string): NodeListOf<HTMLElement>;
}
interface Element {
  closest<K extends keyof HTMLElementTagNameMap>(selector: K): HTMLElementTagNameMap[K] | null;
  closest(selectors: string): HTMLElement | null;
}
