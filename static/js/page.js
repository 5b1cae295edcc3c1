// Small helps around HTMX swaps. Every page works without this file.
"use strict";

(() => {
  // The element that had the focus before a swap, by id, so that it can have it again afterwards.
  let focused = null;

  document.addEventListener("htmx:beforeSwap", () => {
    const element = document.activeElement;
    focused = element && element.id ? element.id : null;
  });

  document.addEventListener("htmx:afterSettle", (event) => {
    const swapped = event.detail.elt;
    const errors = swapped.querySelector ? swapped.querySelector("#errors") : null;
    if (errors) {
      errors.focus();
      return;
    }
    if (document.activeElement && document.activeElement !== document.body) return;
    const again = focused ? document.getElementById(focused) : null;
    if (again) {
      again.focus({ preventScroll: true });
      return;
    }
    const heading = swapped.querySelector ? swapped.querySelector("[data-focus]") : null;
    if (heading) heading.focus({ preventScroll: true });
  });

  // After a plain post that came back with errors, begin at their summary.
  document.addEventListener("DOMContentLoaded", () => {
    const errors = document.getElementById("errors");
    if (errors) errors.focus();
  });

  // One press of a button is one act.
  document.addEventListener("submit", (event) => {
    const button = event.submitter;
    if (!button || event.target.method !== "post" || event.defaultPrevented) return;
    if (button.dataset.pressed) {
      event.preventDefault();
      return;
    }
    button.dataset.pressed = "yes";
    window.setTimeout(() => delete button.dataset.pressed, 3000);
  });
})();
