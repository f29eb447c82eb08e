// @ts-check
// Listens for what others do while this page is open. It never touches a field that somebody may be typing into.
import { t } from './say.js';

/** Whether the matter of the page may be replaced: nobody is at it, and nothing in it was begun. */
function idle() {
  const main = document.getElementById('main');
  if (!main || document.querySelector('dialog[open], main details[open]')) return false;
  if (main.contains(document.activeElement) && document.activeElement !== main) return false;
  return [...main.querySelectorAll('input, textarea, select')].every((el) => {
    if (el instanceof HTMLSelectElement) return [...el.options].every((o) => o.selected === o.defaultSelected);
    const field = /** @type {HTMLInputElement} */ (el);
    return field.value === field.defaultValue && field.checked === field.defaultChecked;
  });
}

/** Puts a part of a page in the place of the old one. @param {string} at @param {string} html */
function put(at, html) {
  const old = document.querySelector(at);
  if (!old || html === '') return;
  const box = document.createElement('template');
  box.innerHTML = html;
  const next = box.content.firstElementChild;
  if (!next || old.outerHTML === next.outerHTML) return;
  const focused = old.contains(document.activeElement) ? document.activeElement?.getAttribute('href') : null;
  old.replaceWith(next);
  if (focused) /** @type {HTMLElement | null} */ (next.querySelector(`a[href="${CSS.escape(focused)}"]`))?.focus();
}

/** Shows a sentence under the line of what is left, once. @param {string} id @param {string} words @param {string} [link] */
function tell(id, words, link) {
  if (document.getElementById(id)) return;
  const p = document.createElement('p');
  p.id = id;
  p.className = 'news';
  p.setAttribute('role', 'status');
  p.append(words + ' ');
  const a = document.createElement('a');
  a.href = link ?? location.href;
  a.textContent = link ? t('To the next') : t('Show it');
  p.append(a);
  document.getElementById('main')?.before(p);
}

/** Says that nobody answers, until somebody does; pages with a sentence of their own for that keep to it. @param {boolean} away */
function away(away) {
  const old = document.getElementById('unheard');
  if (!away) old?.remove();
  if (!away || old || document.getElementById('away')) return;
  const p = document.createElement('p');
  p.id = 'unheard';
  p.className = 'wrong';
  p.setAttribute('role', 'alert');
  p.append(t('The laptop does not answer. What you typed stays here; send it once this line is gone. If it stays, look whether gatefold still runs there.'));
  document.getElementById('main')?.before(p);
}

/** Shows the page's matter as it is now. */
async function again() {
  const answer = await fetch(location.href);
  if (!answer.ok || answer.redirected) return;
  const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  const next = page.getElementById('main');
  const old = document.getElementById('main');
  if (next && old && idle()) old.replaceChildren(...next.childNodes);
}

export function live() {
  const body = document.body;
  const start = body.dataset.live;
  if (start === undefined) return;
  const here = body.dataset.here ?? '';
  const entry = document.querySelector('[data-entry]')?.getAttribute('data-entry') ?? '';
  let at = start;
  /** @type {EventSource | null} */
  let stream = null;
  let lost = false; // the line broke, and the browser tries again by itself

  /** @param {MessageEvent<string>} e */
  async function hear(e) {
    /** @type {{moment: number, nav: string, left: string, gone: boolean}} */
    const news = JSON.parse(e.data);
    const moved = String(news.moment) !== at;
    at = String(news.moment);
    put('header nav', news.nav);
    put('section.left', news.left);
    if (!moved) return;
    body.dataset.live = at;
    if (entry !== '') {
      if (news.gone) tell('gone', t('Somebody else has settled this entry meanwhile.'), '/next');
    } else if (here === 'stack' && idle()) {
      await again();
    } else {
      tell('moved', t('Something has come in since this page was made.'));
    }
  }
  function open() {
    // A browser keeps few connections to one server: a page that nobody sees gives its own up.
    if (stream || document.hidden) return;
    stream = new EventSource('/live?' + new URLSearchParams({ here, entry, at }));
    stream.addEventListener('news', hear);
    // The browser comes back by itself after a broken line, but not after an answer that was no stream.
    stream.addEventListener('error', () => {
      if (stream?.readyState === EventSource.CLOSED) {
        close();
        setTimeout(open, 10_000);
        return;
      }
      lost = true;
      setTimeout(() => away(lost), 1000); // a page that is being left breaks its line too
    });
    stream.addEventListener('open', () => {
      lost = false;
      away(false);
    });
  }
  function close() {
    stream?.close();
    stream = null;
    lost = false;
    away(false);
  }
  // Sent now, it would only change this page for one of the browser's own that says nothing can be reached.
  document.addEventListener('submit', (e) => {
    if (!lost || document.getElementById('away')) return;
    e.preventDefault();
    away(true);
  });
  document.addEventListener('visibilitychange', () => (document.hidden ? close() : open()));
  addEventListener('pagehide', close);
  addEventListener('pageshow', open);
  open();
}
