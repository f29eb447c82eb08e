// @ts-check
// The one list of keys. The help table is drawn from it, and nothing else listens.
import { t } from './say.js';

/** Follows or presses the element that carries a key. @param {string} key */
function press(key) {
  const el = document.querySelector(`[data-key="${CSS.escape(key)}"]`);
  if (el instanceof HTMLElement) el.click();
  return el !== null;
}

/** Marks another source of the text. */
function nextSource() {
  const all = /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll('input[name=how]')]);
  const at = all.findIndex((r) => r.checked);
  if (all.length) all[(at + 1) % all.length].checked = true;
}

/** Takes the last entry back, or says that there is none. */
function takeBack() {
  if (!press('<')) document.getElementById('no-way-back')?.removeAttribute('hidden');
}

/** Puts back what was taken back last, or says that there is none. */
function putBack() {
  if (!press('>')) document.getElementById('no-way-forth')?.removeAttribute('hidden');
}

/** Says that nothing is written; with a text typed, the key does nothing. */
function nothingWritten() {
  const text = document.getElementById('text');
  if (text instanceof HTMLInputElement && text.value.trim() !== '') return;
  press('.');
}

/** Opens the reason for setting a row aside. */
function openAside() {
  const box = document.getElementById('aside');
  if (!(box instanceof HTMLDetailsElement)) return;
  box.open = true;
  // No further than needed: the ink that the reason is about stays in view.
  /** @type {HTMLElement | null} */ (box.querySelector('input[name=note]'))?.focus({ preventScroll: true });
  box.scrollIntoView({ block: 'nearest' });
}

export function showKeys() {
  const dialog = document.getElementById('keys');
  if (dialog instanceof HTMLDialogElement) dialog.showModal();
}

/** @type {{key: string, does: string, run: () => void, inField?: true}[]} */
export const keys = [
  { key: 'Enter', does: 'settle this writing, show the next', run: () => {}, inField: true }, // the form's own
  { key: 'Escape', does: 'leave it for later, show the next', run: () => press('Escape'), inField: true },
  { key: '*', does: 'where the text comes from: the ink, read aloud, the judge asked', run: nextSource, inField: true },
  { key: '.', does: 'nothing is written in this row', run: nothingWritten, inField: true },
  { key: '/', does: 'set the row aside, with a reason', run: openAside, inField: true },
  { key: '+', does: 'loupe: closer, closest, the whole row', run: () => document.dispatchEvent(new Event('loupe')), inField: true },
  { key: '<', does: 'take the last entry back', run: takeBack, inField: true },
  { key: '>', does: 'put back what was taken back last', run: putBack, inField: true },
  { key: '?', does: 'show the keys', run: showKeys, inField: true },
  { key: 's', does: 'the stack', run: () => press('s') },
  { key: 'e', does: 'the next entry that waits', run: () => press('e') },
  { key: 'q', does: 'the questions', run: () => press('q') },
  { key: 'h', does: 'what was heard', run: () => press('h') },
  { key: 'd', does: 'the draft', run: () => press('d') },
  { key: 'p', does: 'posting', run: () => press('p') },
];

/** Whether letters typed now belong to a field. @param {EventTarget | null} at */
function inField(at) {
  return at instanceof HTMLInputElement && at.type === 'text';
}

/** Whether a field is for words, in which every sign may be meant. @param {EventTarget | null} at */
function inProse(at) {
  return inField(at) && /** @type {HTMLInputElement} */ (at).name !== 'text';
}

export function listen() {
  document.addEventListener('keydown', (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.isComposing) return;
    if (document.querySelector('dialog[open]')) return;
    const found = keys.find((k) => k.key === e.key);
    if (found && e.repeat && !inProse(e.target)) { // held too long, it was meant for the page before
      e.preventDefault();
      return;
    }
    if (!found || found.key === 'Enter') return;
    if (inField(e.target) && !found.inField) return;
    if (e.target instanceof HTMLSelectElement && e.key.length === 1) return; // it chooses by letters
    if (inProse(e.target)) {
      if (e.key === 'Escape') document.getElementById('text')?.focus();
      return;
    }
    e.preventDefault();
    found.run();
  });
  // Keyboards on glass and remote controls send the sign all the same: a key is no text.
  document.addEventListener('beforeinput', (e) => {
    if (!(e.target instanceof HTMLInputElement) || !inField(e.target)) return;
    const opened = e.target.name === 'note' && e.target.value === '' && e.data === '/'; // the key that led here
    if (opened || !inProse(e.target) && keys.some((k) => k.inField && k.key === e.data)) e.preventDefault();
  });
  const body = document.querySelector('#keys tbody');
  for (const k of keys) {
    const row = document.createElement('tr');
    const name = document.createElement('td');
    const kbd = document.createElement('kbd');
    kbd.textContent = k.key === 'Escape' ? 'Esc' : k.key;
    name.append(kbd);
    const does = document.createElement('td');
    does.textContent = t(k.does);
    row.append(name, does);
    body?.append(row);
  }
  document.querySelector('.keys-hint')?.removeAttribute('hidden');
}
