// What is due with what goes along, as it is ticked; the change that goes back, while cash is typed (without this the page says so once it is handed back), and the focus
// on how it is paid where nothing has to be read first: then a key chooses and Enter hands over.
(() => {
  "use strict";

  const form = document.querySelector("[data-till]");
  const place = form?.querySelector("[data-change]");
  if (!(form instanceof HTMLFormElement) || !(place instanceof HTMLElement)) return;

  /** @param {string} name */
  const typed = (name) => {
    const field = form.elements.namedItem(name);
    // A number with two marks could be two numbers: the server asks, and nothing is reckoned here.
    const words = field instanceof HTMLInputElement ? field.value.trim() : "";
    return /^\d+([.,]\d{1,2})?$/.test(words) ? Math.round(Number(words.replace(",", ".")) * 100) : null;
  };

  const first = form.querySelector("input[name=pays_by]");
  if (first instanceof HTMLInputElement && !document.querySelector(".message--error, .message--warning, .form-errors")) {
    first.focus({ preventScroll: true });
  }

  /** In cents: what is due for this ticket, and for each that goes along. */
  const dueInAll = () => {
    const along = Array.from(form.querySelectorAll("input[name=along]:checked"), (box) =>
      box instanceof HTMLInputElement ? Number(box.value.split(":").pop()) : 0,
    );
    return along.reduce((sum, due) => sum + Math.round(due * 100), Math.round(Number(place.dataset.due) * 100));
  };

  /** An amount as the server writes it, in the shop's way. @param {number} cents */
  const inWords = (cents) => {
    const own = Number(place.dataset.decimals);
    const least = cents % 100 === 0 ? own : Math.max(own, 2);
    const figures = (cents / 100).toLocaleString("en", { minimumFractionDigits: least, maximumFractionDigits: Math.max(least, 2) });
    return (place.dataset.money ?? "¤").replace("¤", figures);
  };

  form.addEventListener("input", (event) => {
    const inAll = form.querySelector("[data-due-in-all]");
    if (inAll && event.target instanceof HTMLInputElement && event.target.name === "along") {
      inAll.textContent = `Due: ${inWords(dueInAll())}`;
    }
    const kind = form.querySelector("input[name=pays_by]:checked");
    const given = typed("given");
    const due = typed("amount") ?? dueInAll();
    const isCash = kind instanceof HTMLInputElement && kind.value === "cash";
    const back = given === null ? -1 : given - due;
    place.textContent = isCash && back >= 0 ? `Change: ${inWords(back)}` : "";
  });
})();
