// @ts-check
// Sends what was heard without leaving the page, so that nothing typed is lost where the laptop is out of reach.
// What comes back takes the page's place, and so listeners stand on the document.

/** @param {EventTarget | null} el @returns {HTMLFormElement | null} */
const heard = (el) => (el instanceof HTMLFormElement && el.id === 'heard' ? el : null);
/** @param {boolean} yes */
const lost = (yes) => {
  const el = document.getElementById('lost');
  if (!el) return;
  el.hidden = !yes;
  if (yes) el.scrollIntoView();
};
let busy = false;

document.addEventListener('submit', async (e) => {
  const form = heard(e.target);
  if (!form) return;
  e.preventDefault();
  if (busy) return;
  busy = true;
  lost(false);
  try {
    const body = new URLSearchParams();
    for (const [name, value] of new FormData(form)) body.append(name, String(value));
    const answer = await fetch(form.action, { method: 'POST', body, signal: AbortSignal.timeout(10_000) });
    const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
    const main = page.querySelector('main');
    if (!main) throw new Error('not a page of ours');
    document.querySelector('main')?.replaceWith(main);
    document.title = page.title;
    if (answer.redirected) history.replaceState(null, '', answer.url);
    const first = main.querySelector('[aria-invalid]');
    (first instanceof HTMLElement ? first : main).focus();
    scrollTo(0, 0);
  } catch { lost(true); } finally { busy = false; }
});

// Enter goes to the next line; on the last it keeps.
document.addEventListener('keydown', (e) => {
  const form = e.target instanceof HTMLInputElement ? heard(e.target.form) : null;
  if (e.key !== 'Enter' || !form) return;
  const lines = [...form.querySelectorAll('input[type=text]')].filter((el) => el.checkVisibility());
  const next = lines[lines.indexOf(/** @type {Element} */ (e.target)) + 1];
  if (!(next instanceof HTMLInputElement)) return;
  e.preventDefault();
  next.focus();
});
