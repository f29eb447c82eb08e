// @ts-check
// Keeps what somebody is typing into an entry until the desk has answered: a line that breaks loses none of it.
// It stays in this tab, goes with the next page, and is never shown to another person.

const shelf = 'gatefold-typed';

/** @typedef {{who: string, path: string, text: string, how: string, note: string}} Typed */

/** @returns {Typed | null} */
function kept() {
  try {
    return JSON.parse(sessionStorage.getItem(shelf) ?? 'null');
  } catch {
    return null;
  }
}

export function keep() {
  const who = document.querySelector('.who strong')?.textContent ?? '';
  const path = location.pathname;
  const text = document.getElementById('text');
  const note = document.getElementById('note');
  if (who === '') return; // a page that asks for a name, or says that none is known: the next one may be the entry again
  const old = kept();
  sessionStorage.removeItem(shelf);
  if (!(text instanceof HTMLInputElement)) return;
  // The desk has answered and asks the same entry once more, say for the judge's word: what was typed is kept there.
  const answered = document.querySelector('main > .notice') !== null;
  const asked = document.querySelector('main .wrong:not([hidden])') !== null; // something of the form is missing, and the desk says what
  if (old && !answered && !('anew' in text.dataset) && old.who === who && old.path === path && text.value === '' && (old.text || old.note)) {
    text.value = old.text;
    const how = document.querySelector(`input[name=how][value="${CSS.escape(old.how)}"]`);
    if (how instanceof HTMLInputElement) how.checked = true;
    if (note instanceof HTMLInputElement && note.value === '') note.value = old.note;
    if (!asked) document.getElementById('kept')?.removeAttribute('hidden');
    save();
  }
  function save() {
    const how = document.querySelector('input[name=how]:checked');
    /** @type {Typed} */
    const now = {
      who, path, text: /** @type {HTMLInputElement} */ (text).value,
      how: how instanceof HTMLInputElement ? how.value : '',
      note: note instanceof HTMLInputElement ? note.value : '',
    };
    try {
      sessionStorage.setItem(shelf, JSON.stringify(now));
    } catch { /* a full or shut shelf: the page works without it */ }
  }
  document.addEventListener('input', save);
  document.addEventListener('submit', save);
}
