// @ts-check
// A time that nobody has touched is that at which its form is sent, not that at which the page was loaded: a page of postings
// stands open for long, and a protest period counts from what is entered there.

const day = 24 * 60 * 60;

/** @param {string} text as 12:04:30 */
function seconds(text) {
  const [h, m, s] = text.split(':').map(Number);
  return h * 3600 + m * 60 + s;
}

/** @param {number} s */
function words(s) {
  return [s / 3600, s / 60 % 60, s % 60].map((n) => String(Math.floor(n)).padStart(2, '0')).join(':');
}

export function clocks() {
  const began = Date.now();
  let running = [.../** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll('input[data-runs]'))].map((field) => ({ field, from: seconds(field.value), shown: field.value }));
  function tick() {
    const passed = Math.floor((Date.now() - began) / 1000);
    running = running.filter((r) => r.field.value === r.shown && document.activeElement !== r.field);
    for (const r of running) r.field.value = r.shown = words(((r.from + passed) % day + day) % day);
  }
  if (running.length === 0) return;
  setInterval(tick, 1000);
  document.addEventListener('submit', tick, true); // a page in the background ticks seldom
}
