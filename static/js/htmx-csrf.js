// Gives htmx's writes the CSRF token that Django expects, from <meta name="csrf-token">.
document.addEventListener("htmx:configRequest", (event) => {
  const token = document.querySelector('meta[name="csrf-token"]')?.content;
  if (token && event.detail.verb !== "get") {
    event.detail.headers["X-CSRFToken"] = token;
  }
});
