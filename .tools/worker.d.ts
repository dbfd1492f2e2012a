// What bench-worker.js finds besides what every worker has: the server puts SHOP in front of it, and it serves pages.

interface WorkerGlobalScope {
  SHOP: { version: string; files: string[]; statics: string; home: string; signIn: string; signOut: string; bench: string };
  readonly clients: Clients;
  skipWaiting(): Promise<void>;
}

interface WorkerGlobalScopeEventMap {
  activate: ExtendableEvent;
  fetch: FetchEvent;
  install: ExtendableEvent;
}
