// @ts-check
// Keeps photos on the phone until the laptop has them, sends them, and shows what became of each.
//
//   chosen -> shelf --POST--> laptop keeps it -> picture leaves the shelf -> read: good, or what to do
//                '--- out of reach: second pile, tried again ---'
//
// All words stand in the page.
import { openShelf } from './shelf.js';

/** @typedef {import('./shelf.js').Shot} Shot */

const page = /** @type {HTMLElement} */ (document.getElementById('photos'));
const race = page.dataset.race ?? '';
/** @param {string} key */
const say = (key) => document.querySelector(`#say [data-say="${key}"]`)?.textContent ?? '';
/** @param {string} id @param {boolean} yes */
const show = (id, yes) => { const el = document.getElementById(id); if (el) el.hidden = !yes; };

const shelf = await openShelf();
show('forgetful', !shelf.keeps);
let reachable = true;
let paired = true;
let awaySince = 0;
let last = 0; // the shot whose fate is shown large
const progress = new Map(); // share sent, by key

for (const shot of shelf.shots()) if (shot.race !== race && !shot.here) await shelf.drop(shot);

/** A photo of this race that the laptop doesn't have. @param {Shot} s */
const waits = (s) => s.here && s.race === race;

/** Lays what was chosen on the shelf. @param {HTMLInputElement} input */
async function take(input) {
  const files = [...input.files ?? []];
  input.value = ''; // the same photo may be chosen again
  for (const file of files) {
    const kept = await shelf.add({ race, name: file.name, here: true, state: 'sending', id: '', words: [], todo: [] }, await file.arrayBuffer());
    if (!kept) show('forgetful', true);
    draw();
    send();
  }
}

let sending = false;
async function send() {
  if (sending) return;
  sending = true;
  try {
    for (let shot; paired && (shot = shelf.shots().find(waits));) if (!await sendOne(shot)) break;
  } finally { sending = false; }
}

/** Sends one photo and returns whether the laptop has spoken. @param {Shot} shot */
async function sendOne(shot) {
  const picture = await shelf.picture(shot);
  if (!picture) { // the browser has thrown it away
    await shelf.put({ ...shot, here: false, state: 'unknown' });
    draw();
    return true;
  }
  const { status, body } = await post(shot, picture);
  progress.delete(shot.key);
  if (status === 401) paired = false;
  reach(status > 0);
  const final = status === 200 || status === 413 || status === 415;
  if (final && body) {
    const twin = shelf.shots().find((s) => s !== shot && s.race === race && body.id && s.id === body.id);
    if (twin) {
      await shelf.drop(shot);
      shot = twin;
    }
    await shelf.put({ ...shot, here: false, id: body.id, state: body.state, words: body.words ?? [], todo: body.do ?? [] });
    last = shot.key;
    ask();
  }
  draw();
  return final;
}

/**
 * Posts a photo. Status 0: nothing came back. A connection on which nothing moves is given up, for a phone that
 * walks out of reach isn't told so.
 * @param {Shot} shot @param {ArrayBuffer} picture @returns {Promise<{status: number, body: any}>}
 */
function post(shot, picture) {
  return new Promise((yes) => {
    const x = new XMLHttpRequest();
    let moved = Date.now();
    const watch = setInterval(() => { if (Date.now() - moved > 20_000) x.abort(); }, 1000);
    x.upload.onprogress = (e) => {
      moved = Date.now();
      progress.set(shot.key, e.loaded / e.total);
      draw();
    };
    x.onloadend = () => {
      clearInterval(watch);
      let body = null;
      try { body = JSON.parse(x.responseText); } catch { /* no answer of ours */ }
      yes({ status: x.status, body });
    };
    x.open('POST', '/photos');
    x.setRequestHeader('Content-Type', 'application/octet-stream');
    x.setRequestHeader('Gatefold-Name', encodeURIComponent(shot.name));
    x.send(picture);
  });
}

/** Notes whether the laptop answers. @param {boolean} yes */
function reach(yes) {
  reachable = yes;
  if (yes) awaySince = 0;
  else awaySince ||= Date.now();
  show('away', !yes);
  show('gone', !yes && Date.now() - awaySince > 60_000);
  show('unpaired', !paired);
}

/** @param {string} path */
async function get(path) {
  const answer = await fetch(path, { signal: AbortSignal.timeout(5000), redirect: 'manual' });
  paired = answer.type !== 'opaqueredirect' && answer.status !== 401;
  return paired && answer.ok ? answer : null;
}

/** Asks what became of photos that are being read, and what is still missing. */
async function ask() {
  try {
    // Only what may still change; few at once, so that the address stays short.
    const open = shelf.shots().filter((s) => s.race === race && s.id && ['reading', 'unread'].includes(s.state)).slice(0, 20);
    if (open.length) {
      const answer = await get('/photos/seen?' + open.map((s) => 'id=' + s.id).join('&'));
      for (const seen of answer ? await answer.json() : []) {
        const shot = open.find((s) => s.id === seen.id);
        if (!shot || shot.state === seen.state) continue;
        await shelf.put({ ...shot, state: seen.state, words: seen.words ?? [], todo: seen.do ?? [] });
        last = shot.key;
      }
    }
    const lists = await (await get('/photos?part'))?.text();
    const at = document.getElementById('lists');
    if (lists && at && at.dataset.was !== lists) {
      at.dataset.was = lists;
      const folded = [...at.querySelectorAll('details')].map((d) => d.open);
      at.innerHTML = lists; // made by the desk's own template
      at.querySelectorAll('details').forEach((d, i) => { if (i < folded.length) d.open = folded[i]; });
    }
    reach(true);
  } catch { reach(false); }
  draw();
}

/** @param {Shot} shot */
function wordsOf(shot) {
  if (!shot.here) return shot.words.length ? shot.words : [say(shot.state)];
  if (shot.race !== race) return [say('other')];
  if (!reachable || !paired) return [say('pile')];
  const share = progress.get(shot.key);
  return [say('sending') + (share ? ` ${Math.round(share * 100)} %` : '')];
}

/** @param {string} tag @param {string} className @param {string} text */
function make(tag, className, text) {
  const el = document.createElement(tag);
  el.className = className;
  el.textContent = text;
  return el;
}

/** @param {Shot} shot */
function classOf(shot) {
  if (!shot.here) return shot.state;
  return reachable && paired && shot.race === race ? 'sending' : 'pile';
}

let drawn = '';
function draw() {
  const shots = shelf.shots().sort((a, b) => a.key - b.key);
  const now = JSON.stringify(shots.map((s) => [s.key, classOf(s), wordsOf(s), s.todo]));
  if (now === drawn) return;
  drawn = now;
  const items = shots.map((shot) => {
    const li = make('li', 'shot ' + classOf(shot), '');
    const sign = make('span', 'sign', '');
    sign.setAttribute('aria-hidden', 'true');
    li.append(sign);
    for (const w of wordsOf(shot)) li.append(make('strong', '', w), ' ');
    for (const t of shot.todo) li.append(make('span', 'do-this', t), ' ');
    li.append(make('span', 'quiet file', shot.name));
    if (classOf(shot) === 'pile') {
      const save = make('button', '', say('save'));
      save.addEventListener('click', () => saveToPhone(shot));
      li.append(' ', save);
      if (shot.race !== race) {
        const drop = make('button', '', say('drop'));
        drop.addEventListener('click', async () => { await shelf.drop(shot); draw(); });
        li.append(' ', drop);
      }
    }
    return li;
  });
  document.getElementById('shots')?.replaceChildren(...items.reverse());
  show('none', items.length === 0);
  const at = document.getElementById('last');
  const shown = shots.find((s) => s.key === last);
  if (!at || !shown) return;
  const text = [...wordsOf(shown), ...shown.todo].join(' · ');
  if (at.textContent !== text) at.textContent = text;
  at.className = 'last shot ' + classOf(shown);
}

/** Gives a photo that only this page holds to the phone's own gallery or files. @param {Shot} shot */
async function saveToPhone(shot) {
  const picture = await shelf.picture(shot);
  if (!picture) return;
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([picture]));
  link.download = shot.name || 'card.jpg';
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

addEventListener('online', () => tick());
addEventListener('beforeunload', (e) => { if (!shelf.keeps && shelf.shots().some(waits)) e.preventDefault(); });
document.addEventListener('visibilitychange', () => { if (!document.hidden) tick(); });

// One clock: often while something is under way, seldom else.
let timer = 0;
async function tick() {
  clearTimeout(timer);
  await ask();
  if (reachable && paired) send();
  const busy = shelf.shots().some((s) => s.state === 'reading' || waits(s));
  timer = setTimeout(tick, busy ? 700 : 5000);
}
draw();
show('asleep', false);
for (const input of document.querySelectorAll('input[type=file]')) {
  if (!(input instanceof HTMLInputElement)) continue;
  input.addEventListener('change', () => take(input));
  take(input); // what was chosen before this script was here
}
tick();
