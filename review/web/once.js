// @ts-check
// A button or Enter that is pressed twice in a hurry was meant once: the second press would send the form again, or, on the page
// that the first one led to, say something of ink that nobody has looked at, or say yes to a question that nobody has read.

const hurry = 1000; // ms; whoever sends the same form again after that means it

export function once() {
  let sent = document.querySelector('main .wrong:not([hidden])') ? performance.now() : -hurry;
  document.addEventListener('click', (e) => {
    if (e.detail > 1 && e.target instanceof Element && e.target.closest('form button')) e.preventDefault();
  }, true);
  document.addEventListener('submit', (e) => {
    if (e.defaultPrevented || e.target instanceof HTMLFormElement && e.target.method === 'dialog') return;
    const now = performance.now();
    if (now - sent < hurry) e.preventDefault();
    else sent = now;
  });
  addEventListener('pageshow', (e) => { if (e.persisted) sent = -hurry; }); // come back to by the browser's own way
}
