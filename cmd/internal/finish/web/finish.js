// @ts-check
// The page: a list of places to write, the picture with them drawn over it, and what is said of the chosen ones.

import { partMeans, kindMeans, grammarMeans } from './means.js';
import { groupsOf, name, say, fill, words, bibsFrom, printBibs, shift, split, join, inRow, inOtherBlocks, underPanel, rounded } from './fields.js';

const $ = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const svg = 'http://www.w3.org/2000/svg';
const grip = 1.8; // mm, half of the corner by which a field's size is dragged
const step = 0.5; // mm that a key moves by

/** @type {any} */
let draft;
/** @type {any} */
let layout;
let side = 0; // of the layout that is shown
/** @type {any[][]} */
let groups = [];
/** @type {any[]} */
let chosen = [];
let saved = '';
/** @type {string[]} */
const past = []; // layouts before each change
let faults = new Set();
/** @type {string[][]} */
let first = []; // where the fields of each side were proposed, in the order of their numbers

const here = () => layout.sides[side];
const sheet = () => ({ x: 0, y: 0, w: here().w_mm, h: here().h_mm });

async function send(/** @type {string} */ to, /** @type {any} */ body) {
  const r = await fetch(to, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) });
  const answer = await r.json();
  if (!r.ok) throw new Error(answer.wrong);
  return answer;
}

function tell(/** @type {string} */ words) { $('said').textContent = words; }

/** Does something to the layout that can be undone. */
function change(/** @type {() => void} */ what) {
  tell('');
  followed = false;
  past.push(JSON.stringify({ layout, chosen: chosen.map((f) => f.name) }));
  if (past.length > 200) past.shift();
  what();
  draw();
  lintSoon();
}

/** Says something of the chosen column, and of those that stand in its place in other blocks of the table. */
function changeAlike(/** @type {(fields: any[]) => void} */ what) {
  const one = names(chosen), also = one === only ? [] : inOtherBlocks(here().fields, chosen);
  only = '';
  change(() => what([...chosen, ...also.flat()]));
  if (!also.length) return;
  followed = true;
  const rows = also.map((g) => (g.length > 1 ? `${g[0].row}–${g[g.length - 1].row}` : `${g[0].row}`));
  tell(`Drawn alike, so rows ${[rows.slice(0, -1).join(', '), rows[rows.length - 1]].filter(Boolean).join(' and ')} follow. Undo it and say it again where only the rows that are chosen are meant.`);
}

const names = (/** @type {any[]} */ fields) => fields.map((f) => f.name).sort().join(' ');
let followed = false; // whether other blocks did at the last change
let only = ''; // the column of which that was undone: what is said of it next holds for it alone

function undo() {
  const before = past.pop();
  if (!before) return tell('Nothing to undo.');
  const b = JSON.parse(before);
  only = followed ? b.chosen.sort().join(' ') : '';
  followed = false;
  layout = b.layout;
  chosen = here().fields.filter((/** @type {any} */ f) => b.chosen.includes(f.name));
  draw();
  lintSoon();
  tell('Undone.');
}

function choose(/** @type {any[]} */ fields) {
  chosen = fields;
  draw();
}

// The list.

function rowsOf(/** @type {any[]} */ g) {
  if (!g[0].row) return '';
  return g.length === 1 ? `row ${g[0].row}` : `rows ${g[0].row}–${g[g.length - 1].row}`;
}

function drawList() {
  groups = groupsOf(here().fields);
  const list = $('groups');
  list.replaceChildren(...groups.map((g, i) => {
    const line = document.createElement('div');
    line.id = `group-${i}`;
    line.role = 'option';
    line.setAttribute('aria-selected', String(g.some((f) => chosen.includes(f))));
    if (g[0].part === 'unnamed') line.className = 'unnamed';
    const cells = [rowsOf(g) || (g[0].panel ? `panel ${g[0].panel}` : 'once'), g[0].part === 'unnamed' ? 'what for?' : g[0].part, g[0].kind === 'comb' ? `${g[0].boxes} ${g[0].boxes === 1 ? 'box' : 'boxes'}` : g[0].kind];
    cells.forEach((text, k) => {
      const span = document.createElement('span');
      span.textContent = text;
      if (k === 1) span.className = 'name';
      line.append(span);
    });
    line.addEventListener('click', (e) => { choose(e.shiftKey ? [...new Set([...chosen, ...g])] : [...g]); list.focus(); });
    return line;
  }));
  const at = groups.findIndex((g) => g.some((f) => chosen.includes(f)));
  if (at >= 0) {
    list.setAttribute('aria-activedescendant', `group-${at}`);
    $(`group-${at}`).scrollIntoView({ block: 'nearest' });
  } else list.removeAttribute('aria-activedescendant');
  const unnamed = here().fields.filter((/** @type {any} */ f) => f.part === 'unnamed').length;
  $('count').textContent = `${here().fields.length} fields${unnamed ? `, ${unnamed} not named` : ''}`;
}

function listKey(/** @type {KeyboardEvent} */ e) {
  const at = groups.findIndex((g) => g.some((f) => chosen.includes(f)));
  const arrow = /** @type {Record<string, [number, number]>} */ ({ ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] })[e.key];
  if (arrow && (e.altKey || e.shiftKey) && chosen.length) {
    const [x, y] = arrow;
    change(() => shift(chosen, e.altKey ? { x: x * step, y: y * step, w: 0, h: 0 } : { x: 0, y: 0, w: x * step, h: y * step }, sheet()));
  } else if (e.key === 'ArrowDown' || e.key === 'ArrowUp') {
    const to = Math.min(Math.max(0, at < 0 ? 0 : at + arrow[1]), groups.length - 1);
    if (groups[to]) choose([...groups[to]]);
  } else if (e.key === 'Home' || e.key === 'End') {
    const to = groups[e.key === 'Home' ? 0 : groups.length - 1];
    if (to) choose([...to]);
  } else if (e.key === 'Enter' && chosen.length) $('part').focus();
  else if (e.key === ' ' && at >= 0) {
    const next = (groups[at].indexOf(chosen[chosen.length - 1]) + 1) % groups[at].length;
    choose([groups[at][chosen.length > 1 ? 0 : next]]);
  } else if ((e.key === 'Delete' || e.key === 'Backspace') && chosen.length) drop();
  else if (e.key === 's' && chosen.length) $('parts').focus();
  else if (e.key === 'n') add({ x: sheet().w / 2 - 10, y: sheet().h / 2 - 4, w: 20, h: 8 });
  else return;
  e.preventDefault();
}

// The form.

function writtenOf(/** @type {string} */ part) { return draft.written.find((/** @type {any} */ w) => w.part === part); }

function drawForm() {
  $('form').className = chosen.length ? '' : 'none';
  if (!chosen.length) return;
  const f = chosen[0];
  const g = chosen.length > 1 ? `${chosen.length} fields, ${rowsOf(chosen) || 'once each'}` : f.name;
  $('which').textContent = `${g}: ${f.rect_mm.w.toFixed(1)} × ${f.rect_mm.h.toFixed(1)} mm`;
  $('means').textContent = [partMeans[f.part], kindMeans[f.kind], grammarMeans[f.grammar]].filter((m, i, all) => m && all.indexOf(m) === i).join(' · ');
  $('part').value = f.part;
  $('kind').value = f.kind;
  $('grammar').value = f.grammar;
  $('boxes').value = f.boxes || '';
  $('words').value = (f.options || []).map((/** @type {any} */ o) => o.value).join(' ');
  $('bibs').value = (f.options || [])[0] && f.kind === 'printed' ? f.options[0].value : '';
  $('panel').value = f.panel || '';
  $('row').value = f.row || '';
  for (const [what, shown] of Object.entries({ comb: f.kind === 'comb', choice: f.kind === 'choice', printed: f.kind === 'printed', panel: !f.row || f.part === 'bib' && here().fields.some((/** @type {any} */ o) => o.part === 'drawing' && o.panel), row: true })) {
    document.querySelector(`.for-${what}`)?.classList.toggle('hide', !shown);
  }
}

/** The one of all that a person means: it as it is, or the only one that begins so. */
function whole(/** @type {string} */ text, /** @type {string[]} */ all) {
  const t = text.trim().toLowerCase(), some = all.filter((a) => t && a.startsWith(t));
  return all.includes(t) ? t : some.length === 1 ? some[0] : '';
}

function unknown(/** @type {string} */ id, /** @type {string[]} */ all) {
  tell(`“${$(id).value}” may be none of these, or several: ${all.join(', ')}.`);
  drawForm();
}

function drop() {
  const gone = chosen;
  const at = groups.findIndex((g) => g.some((f) => chosen.includes(f)));
  change(() => {
    here().fields = here().fields.filter((/** @type {any} */ f) => !gone.includes(f));
    groups = groupsOf(here().fields);
    chosen = groups.length ? [...groups[Math.min(at, groups.length - 1)]] : [];
  });
  $('groups').focus();
}

function add(/** @type {any} */ rect) {
  change(() => {
    const f = { name: '', part: 'unnamed', kind: 'cell', rect_mm: rounded(rect), grammar: 'free' };
    if (!underPanel(here().fields, f)) inRow(here().fields, f);
    here().fields.push(f);
    name(here().fields, [f]);
    chosen = [f];
  });
}

function cut(/** @type {boolean} */ below) {
  const n = Number($('parts').value);
  if (!(n >= 2 && n <= 200)) return tell('Write into how many to split.');
  change(() => {
    const { all, pieces } = split(here().fields, chosen, n, below);
    here().fields = all;
    chosen = pieces;
  });
  $('parts').value = '';
  $('groups').focus();
}

/** Gives the chosen ones the bibs from the typed one on, unless they have them. */
function printed() {
  const n = Number($('bibs').value);
  if (!(n >= 1) || bibsFrom(chosen, n).every(([f, bib]) => f.part === 'bib' && (f.options || []).length === 1 && f.options?.[0].value === bib)) return;
  change(() => printBibs(here().fields, chosen, n));
}

function wire() {
  const parts = [...draft.written.map((/** @type {any} */ w) => w.part).sort(), 'unnamed'];
  for (const [list, all, means] of /** @type {[string, string[], Record<string, string>][]} */ ([['all-parts', parts, partMeans], ['all-kinds', draft.kinds, kindMeans], ['all-grammars', draft.grammars, grammarMeans]])) {
    for (const one of all) $(list).append(new Option(means[one] || one, one));
  }
  $('part').addEventListener('change', () => {
    const part = whole($('part').value, parts);
    if (!part) return unknown('part', parts);
    const w = writtenOf(part) || { part: 'unnamed', grammar: 'free', kind: chosen[0].kind, in_row: true };
    const choice = chosen[0].kind === 'choice';
    changeAlike((all) => { say(all, w, draft.boxes); name(here().fields, all); });
    if (!choice && chosen[0].kind === 'choice') tell(`Places to tick, a code for each: type the codes under Words, in the order of the boxes. ${$('said').textContent}`);
    // Two columns that were joined may be a code of two letters, or two places to tick: only people know.
    if (part === 'code' && chosen[0].kind === 'comb' && chosen[0].boxes > 1) tell(`Taken for letters, one in each box. Does a judge tick one of the boxes? Then choose choice under Filled as, and type the codes under Words. ${$('said').textContent}`);
  });
  $('kind').addEventListener('change', () => {
    const kind = whole($('kind').value, draft.kinds);
    if (!kind) return unknown('kind', draft.kinds);
    changeAlike((all) => all.forEach((f) => fill(f, kind, draft.boxes, writtenOf(f.part))));
  });
  for (const id of ['part', 'kind', 'grammar', 'boxes', 'words', 'bibs', 'panel', 'row']) $(id).addEventListener('focus', () => $(id).select());
  $('grammar').addEventListener('change', () => {
    const grammar = whole($('grammar').value, draft.grammars);
    if (!grammar) return unknown('grammar', draft.grammars);
    changeAlike((all) => all.forEach((f) => { f.grammar = grammar; }));
  });
  $('boxes').addEventListener('change', () => { const n = Number($('boxes').value); if (n >= 1) changeAlike((all) => all.forEach((f) => { f.boxes = n; })); });
  $('words').addEventListener('change', () => {
    const all = $('words').value.split(/\s+/).filter(Boolean);
    if (all.length) changeAlike((fields) => fields.forEach((f) => words(f, all)));
  });
  $('bibs').addEventListener('change', printed);
  $('panel').addEventListener('change', () => change(() => {
    const letter = $('panel').value.toUpperCase();
    chosen.forEach((f) => { if (letter) { f.panel = letter; delete f.row; } else delete f.panel; });
    name(here().fields, chosen);
  }));
  $('row').addEventListener('change', () => {
    const n = Number($('row').value);
    change(() => {
      [...chosen].sort((a, b) => a.rect_mm.y - b.rect_mm.y).forEach((f, i) => { if (n >= 1) f.row = n + i; else delete f.row; });
      name(here().fields, chosen);
    });
  });
  $('form').addEventListener('submit', (/** @type {Event} */ e) => e.preventDefault());
  $('form').addEventListener('keydown', (/** @type {KeyboardEvent} */ e) => {
    const in_ = /** @type {HTMLElement} */ (e.target);
    if (e.key === 'Escape') { $('groups').focus(); e.preventDefault(); }
    if (e.key === 'Enter' && in_.tagName === 'INPUT') {
      if (in_.id === 'bibs') printed(); // the first may be known already, and some of those below it not
      if (in_.id === 'parts') cut(true);
      else in_.blur(), $('groups').focus();
      e.preventDefault();
    }
  });
  $('across').addEventListener('click', () => cut(false));
  $('below').addEventListener('click', () => cut(true));
  $('join').addEventListener('click', () => {
    const { all, joined, of } = join(here().fields, chosen);
    if (joined.length === of) return tell('Nothing to join: choose what stands side by side first, with Shift and the pointer.');
    change(() => { here().fields = all; chosen = joined; });
    if (chosen[0].kind === 'choice') tell('Joined. Say what it is used for, and under Words what each box stands for, in their order.');
    $('groups').focus();
  });
  $('drop').addEventListener('click', drop);
  $('groups').addEventListener('keydown', listKey);
  $('groups').addEventListener('focus', () => { if (!chosen.length && groups[0]) choose([...groups[0]]); });
  $('undo').addEventListener('click', undo);
  $('save').addEventListener('click', save);
  $('done').addEventListener('click', done);
  document.addEventListener('keydown', (e) => {
    if (!(e.ctrlKey || e.metaKey)) return;
    if (e.key === 'z') undo();
    else if (e.key === 's') void save();
    else return;
    e.preventDefault();
  });
  window.addEventListener('beforeunload', (e) => { if (saved !== JSON.stringify(layout)) e.preventDefault(); });
  pointer();
}

// The picture.

function drawOver() {
  const over = $('over');
  over.setAttribute('viewBox', `0 0 ${here().w_mm} ${here().h_mm}`);
  over.replaceChildren();
  const rect = (/** @type {any} */ r, /** @type {string} */ cls) => {
    const el = document.createElementNS(svg, 'rect');
    for (const [k, v] of Object.entries({ x: r.x, y: r.y, width: r.w, height: r.h })) el.setAttribute(k, String(v));
    el.setAttribute('class', cls);
    over.append(el);
    return el;
  };
  for (const f of here().fields) {
    const cls = [f.part === 'unnamed' ? 'unnamed' : '', chosen.includes(f) ? 'chosen' : '', faults.has(f.name) ? 'bad' : ''].filter(Boolean).join(' ');
    rect(f.rect_mm, cls).dataset.name = f.name;
    for (const o of f.kind === 'choice' ? f.options || [] : []) rect(o.rect_mm, 'option');
    for (let i = 1; i < (f.boxes || 0); i++) rect({ x: f.rect_mm.x + (f.rect_mm.w * i) / f.boxes, y: f.rect_mm.y, w: 0.01, h: f.rect_mm.h }, 'option');
    const held = f.part === 'bib' && f.kind === 'printed' && f.row; // in every row: one beside the wrong print names another racer
    if (held || chosen.includes(f) || !f.row || f.row === 1) {
      const t = document.createElementNS(svg, 'text'), r = f.rect_mm;
      t.setAttribute('x', String(held ? r.x + r.w - 0.4 : r.x + 0.6));
      t.setAttribute('y', String(held ? r.y + r.h - 0.4 : r.y + 2.9));
      if (held) { // in the corner where print is least often
        t.setAttribute('class', 'held');
        t.style.fontSize = `${Math.max(1.6, Math.min(2.6, 0.3 * r.h))}px`;
      }
      t.textContent = f.part === 'unnamed' ? '?' : held ? `bib ${(f.options || [])[0]?.value || '?'}` : f.part;
      over.append(t);
    }
  }
  for (const f of chosen.slice(0, 1)) rect({ x: f.rect_mm.x + f.rect_mm.w - grip / 2, y: f.rect_mm.y + f.rect_mm.h - grip / 2, w: grip, h: grip }, 'corner');
}

function pointer() {
  const over = $('over');
  /** @type {any} */
  let drag = null;
  // A pointerdown doesn't say how often it was pressed, and no double click follows: the field is drawn anew in between.
  let last = { name: '', at: 0 };
  const at = (/** @type {PointerEvent} */ e) => {
    const box = over.getBoundingClientRect();
    return { x: ((e.clientX - box.x) * here().w_mm) / box.width, y: ((e.clientY - box.y) * here().h_mm) / box.height };
  };
  over.addEventListener('pointerdown', (/** @type {PointerEvent} */ e) => {
    const p = at(e), el = /** @type {any} */ (e.target);
    over.setPointerCapture(e.pointerId);
    if (el.classList.contains('corner')) drag = { how: 'size', from: p };
    else if (el.dataset.name) {
      const f = here().fields.find((/** @type {any} */ f) => f.name === el.dataset.name);
      const twice = last.name === f.name && e.timeStamp - last.at < 500;
      last = { name: f.name, at: e.timeStamp };
      if (twice && !e.shiftKey) choose([f]);
      else if (e.shiftKey) choose([...new Set([...chosen, ...(groups.find((g) => g.includes(f)) || [f])])]);
      else if (!chosen.includes(f)) choose([...(groups.find((g) => g.includes(f)) || [f])]);
      drag = { how: 'move', from: p };
    } else drag = { how: 'new', from: p };
  });
  over.addEventListener('pointermove', (/** @type {PointerEvent} */ e) => {
    if (!drag) return;
    const p = at(e);
    drag.to = p;
    if (Math.hypot(p.x - drag.from.x, p.y - drag.from.y) < 0.8) return;
    drag.moved = true;
    over.querySelector('.new')?.remove();
    const el = document.createElementNS(svg, 'rect');
    const r = drag.how === 'new' ? between(drag.from, p) : moved(chosen[0].rect_mm, drag, p);
    for (const [k, v] of Object.entries({ x: r.x, y: r.y, width: r.w, height: r.h })) el.setAttribute(k, String(v));
    el.setAttribute('class', 'new');
    over.append(el);
  });
  over.addEventListener('pointerup', (/** @type {PointerEvent} */ e) => {
    const d = drag, p = at(e);
    drag = null;
    if (!d) return;
    if (!d.moved) { if (d.how === 'new') choose([]); } else if (d.how === 'new') {
      const r = between(d.from, p);
      if (r.w >= 2 && r.h >= 2) add(r);
    } else change(() => shift(chosen, d.how === 'size' ? { x: 0, y: 0, w: p.x - d.from.x, h: p.y - d.from.y } : { x: p.x - d.from.x, y: p.y - d.from.y, w: 0, h: 0 }, sheet()));
    drawOver();
    $('groups').focus({ preventScroll: true });
  });
}

function between(/** @type {any} */ a, /** @type {any} */ b) {
  const x = Math.max(0, Math.min(a.x, b.x)), y = Math.max(0, Math.min(a.y, b.y));
  return { x, y, w: Math.min(sheet().w, Math.max(a.x, b.x)) - x, h: Math.min(sheet().h, Math.max(a.y, b.y)) - y };
}

function moved(/** @type {any} */ r, /** @type {any} */ d, /** @type {any} */ p) {
  const dx = p.x - d.from.x, dy = p.y - d.from.y;
  return d.how === 'size' ? { x: r.x, y: r.y, w: Math.max(2, r.w + dx), h: Math.max(2, r.h + dy) } : { x: r.x + dx, y: r.y + dy, w: r.w, h: r.h };
}

// What is wrong, and the file.

let lintTimer = 0;
function lintSoon() {
  clearTimeout(lintTimer);
  lintTimer = setTimeout(lint, 250);
}

async function lint() {
  try { showLint((await send('/lint', layout)).found); } catch (e) { showLint([{ text: /** @type {Error} */ (e).message }]); }
}

/** @typedef {{text: string, side?: string, fields?: string[]}} Weak */

function showLint(/** @type {Weak[]} */ found) {
  faults = new Set();
  const names = here().fields.map((/** @type {any} */ f) => f.name);
  for (const w of found) {
    for (const n of w.fields ? (w.side === here().name ? w.fields : []) : names.filter((/** @type {string} */ n) => w.text.includes(`field ${n}`))) faults.add(n);
  }
  const shown = found.slice(0, 12);
  if (found.length > 12) shown.push({ text: `and ${found.length - 12} more` });
  $('lint').replaceChildren(...(shown.length ? shown : [{ text: 'Nothing.' }]).map((w) => {
    const li = w.fields && w.side ? pressed(w.text, () => {
      const at = layout.sides.findIndex((/** @type {any} */ s) => s.name === w.side);
      if (at !== side) show(at);
      choose(here().fields.filter((/** @type {any} */ f) => w.fields?.includes(f.name)));
    }) : document.createElement('li');
    if (!li.firstChild) li.textContent = w.text;
    if (!found.length) li.className = 'fine';
    return li;
  }));
  drawOver();
}

/** A line of a list that does something when it is pressed. */
function pressed(/** @type {string} */ text, /** @type {() => void} */ what) {
  const li = document.createElement('li'), b = document.createElement('button');
  b.type = 'button';
  b.textContent = text;
  b.addEventListener('click', () => { what(); $('groups').focus(); });
  li.append(b);
  return li;
}

async function save() {
  /** @type {HTMLElement} */ (document.activeElement).blur(); // so that what is being typed is in
  const text = JSON.stringify(layout);
  try {
    showLint((await send('/save', layout)).found);
    saved = text;
    tell('Saved.');
  } catch (e) { tell(`Not saved: ${/** @type {Error} */ (e).message}`); }
  $('groups').focus();
}

async function done() {
  if (saved !== JSON.stringify(layout)) return tell('What you changed is not saved yet: press Save first, or close this page to leave it.');
  await send('/done', {});
  tell('Closed. You can close this page.');
  for (const b of document.querySelectorAll('button')) b.disabled = true;
}

function draw() {
  drawList();
  drawForm();
  drawOver();
}

function show(/** @type {number} */ n) {
  side = n;
  chosen = [];
  $('picture').src = `/picture/${here().name}`;
  $('size').textContent = `${here().name}, ${here().w_mm} × ${here().h_mm} mm`;
  $('unsure').replaceChildren(...(draft.unsure[here().name] || []).map(unsure));
  draw();
}

/** A line of what to look at first; pressed, it chooses the fields whose numbers it begins with. */
function unsure(/** @type {string} */ text) {
  const [, from, to, rest] = /^(\d+)(?: to (\d+))?: (.*)$/s.exec(text) || [];
  if (!from) {
    const li = document.createElement('li');
    li.textContent = text;
    return li;
  }
  const places = first[side].slice(Number(from) - 1, Number(to || from));
  return pressed(rest, () => {
    const still = here().fields.filter((/** @type {any} */ f) => places.includes(JSON.stringify(f.rect_mm)));
    // What was joined, split or moved since is where it was.
    const middles = places.map((p) => { const r = JSON.parse(p); return { x: r.x + r.w / 2, y: r.y + r.h / 2 }; });
    choose(still.length ? still : here().fields.filter((/** @type {any} */ f) => middles.some((m) => m.x > f.rect_mm.x && m.x < f.rect_mm.x + f.rect_mm.w && m.y > f.rect_mm.y && m.y < f.rect_mm.y + f.rect_mm.h)));
  });
}

async function start() {
  draft = await (await fetch('/draft')).json();
  layout = draft.layout;
  first = layout.sides.map((/** @type {any} */ s) => s.fields.map((/** @type {any} */ f) => JSON.stringify(f.rect_mm)));
  saved = '';
  $('name').textContent = layout.name;
  if (layout.sides.length > 1) {
    layout.sides.forEach((/** @type {any} */ s, /** @type {number} */ i) => {
      const b = document.createElement('button');
      b.textContent = s.name;
      b.addEventListener('click', () => show(i));
      $('sides').append(b, ' ');
    });
  }
  wire();
  show(0);
  if (groups[0]) choose([...groups[0]]);
  await lint();
  $('groups').focus();
  document.body.dataset.ready = 'yes';
}

void start();
