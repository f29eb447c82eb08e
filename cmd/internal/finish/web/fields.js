// @ts-check
// What a layout's fields are and what is done to them, without any page.

/** @typedef {{x: number, y: number, w: number, h: number}} Rect */
/** @typedef {{value: string, label: string, rect_mm: Rect}} Option */
/** @typedef {{name: string, part: string, kind: string, rect_mm: Rect, row?: number, panel?: string, entry?: number, boxes?: number, options?: Option[], rings?: boolean, grammar: string}} Field */
/** @typedef {{part: string, grammar: string, kind: string, in_row: boolean}} Written */

const alike = 1.2; // mm by which what stands in one column may differ
const slim = 0.8; // width to height of a box for one digit, as most are drawn
const round = (/** @type {number} */ v) => Math.round(v * 100) / 100;

/** @param {Rect} r */
export const rounded = (r) => ({ x: round(r.x), y: round(r.y), w: round(r.w), h: round(r.h) });

/** Columns and single fields, in the order in which they are read. @param {Field[]} fields @returns {Field[][]} */
export function groupsOf(fields) {
  /** @type {Field[][]} */
  const groups = [];
  for (const f of fields) {
    const at = !f.row ? undefined : groups.find(([o]) => o.row && o.part === f.part && o.kind === f.kind && o.boxes === f.boxes &&
      (o.options || []).length === (f.options || []).length && Math.abs(o.rect_mm.x - f.rect_mm.x) < alike && Math.abs(o.rect_mm.w - f.rect_mm.w) < 2 * alike);
    if (at) at.push(f);
    else groups.push([f]);
  }
  for (const g of groups) g.sort((a, b) => (a.row || 0) - (b.row || 0));
  return groups.sort(([a], [b]) => (a.row ? 1 : 0) - (b.row ? 1 : 0) || (a.row ? a.rect_mm.x - b.rect_mm.x : a.rect_mm.y - b.rect_mm.y || a.rect_mm.x - b.rect_mm.x));
}

/** Gives every one of them the name that goes with its part, row and panel. @param {Field[]} fields @param {Field[]} some */
export function name(fields, some) {
  const taken = new Set(fields.filter((f) => !some.includes(f)).map((f) => f.name));
  for (const f of some) {
    const where = f.row ? `row-${String(f.row).padStart(2, '0')}` : f.panel ? `panel-${f.panel.toLowerCase()}` : 'header';
    let what = f.part;
    if (f.part === 'unnamed') what = `unnamed-${Math.round(f.rect_mm.x)}`;
    let full = `${where}.${what}`;
    for (let n = 2; taken.has(full); n++) full = `${where}-${n}.${what}`;
    f.name = full;
    taken.add(full);
    if (f.panel && !f.row && f.part === 'bib') {
      const numbers = fields.filter((o) => o !== f && !o.row && o.part === 'bib' && o.panel === f.panel).map((o) => o.entry);
      if (!f.entry || numbers.includes(f.entry)) for (f.entry = 1; numbers.includes(f.entry);) f.entry++;
    } else delete f.entry;
  }
}

const longest = 2; // letters of a code

/** Says what fields are for; kind and grammar follow. @param {Field[]} some @param {Written} w @param {Record<string, string>} boxes */
export function say(some, w, boxes) {
  for (const f of some) {
    f.part = w.part;
    // Nobody writes a code of so many letters: these are places to tick, a code for each, that were found as cells and joined.
    if (w.part === 'code' && f.kind === 'comb' && (f.boxes || 0) > longest) fill(f, 'choice', boxes, w);
    if (['cell', 'text', 'drawing'].includes(f.kind)) f.kind = w.kind;
    f.grammar = boxes[f.kind] || w.grammar;
    if (f.part === 'bib' && f.kind === 'printed') f.grammar = 'bib';
  }
}

/** @param {Field} f @param {string} kind @param {Record<string, string>} boxes @param {Written | undefined} w */
export function fill(f, kind, boxes, w) {
  const places = f.boxes || 2;
  f.kind = kind;
  f.grammar = boxes[kind] || (w && w.grammar !== 'drawing' && w.grammar) || (f.grammar === 'drawing' || f.grammar === 'mark' || f.grammar === 'word' ? 'free' : f.grammar);
  if (kind !== 'comb') delete f.boxes;
  else f.boxes = f.boxes || Math.max(1, Math.round(f.rect_mm.w / f.rect_mm.h / slim));
  if (kind === 'choice' && !(f.options || []).length) words(f, Array.from({ length: places }, (_, i) => String(i + 1)));
  if (kind !== 'choice' && kind !== 'printed') delete f.options;
}

/** What a field was joined from, while nothing was undone. @type {WeakMap<Field, Rect[]>} */
const pieces = new WeakMap();
const rule = 0.5; // mm to either side within which a line is printed between boxes that were cut evenly: it would look like a mark

/** The words of a choice, one for each box; boxes that are there stay where they are. @param {Field} f @param {string[]} all */
export function words(f, all) {
  const old = (f.options || []).map((o) => o.rect_mm), from = pieces.get(f) || [], wide = f.rect_mm.w / all.length;
  const edge = all.length > 1 && wide > 6 * rule ? rule : 0;
  f.options = all.map((value, i) => ({
    value, label: value,
    rect_mm: [old, from].find((rects) => rects.length === all.length)?.[i] || rounded({ x: f.rect_mm.x + wide * i + edge, y: f.rect_mm.y, w: wide - 2 * edge, h: f.rect_mm.h }),
  }));
}

/**
 * The bibs that a column holds, from the first row's on. They are counted by rows, not by fields: where those of some rows were read, the
 * others are a column with gaps, and the next of them would take the number of a row between. @param {Field[]} column @param {number} from
 * @returns {[Field, string][]}
 */
export function bibsFrom(column, from) {
  const sorted = [...column].sort((a, b) => (a.row || 0) - (b.row || 0)), lead = sorted[0]?.row || 0;
  const byRow = lead > 0 && new Set(sorted.map((f) => f.row)).size === sorted.length;
  return sorted.map((f, i) => [f, String(from + (byRow ? (f.row || 0) - lead : i))]);
}

/** Bibs that stand in print, one for each row from the first on. @param {Field[]} fields @param {Field[]} column @param {number} from */
export function printBibs(fields, column, from) {
  for (const [f, bib] of bibsFrom(column, from)) {
    f.part = f.grammar = 'bib';
    f.options = [{ value: bib, label: bib, rect_mm: { ...f.rect_mm } }];
  }
  name(fields, column);
}

/** Moves fields, or changes their size. @param {Field[]} some @param {Rect} by @param {Rect} sheet */
export function shift(some, by, sheet) {
  for (const f of some) {
    pieces.delete(f);
    const r = f.rect_mm;
    const to = { x: r.x + by.x, y: r.y + by.y, w: Math.max(2, r.w + by.w), h: Math.max(2, r.h + by.h) };
    to.w = Math.min(to.w, sheet.w);
    to.h = Math.min(to.h, sheet.h);
    to.x = Math.min(Math.max(0, to.x), sheet.w - to.w);
    to.y = Math.min(Math.max(0, to.y), sheet.h - to.h);
    for (const o of f.options || []) {
      const q = o.rect_mm;
      o.rect_mm = rounded({ x: to.x + ((q.x - r.x) * to.w) / r.w, y: to.y + ((q.y - r.y) * to.h) / r.h, w: (q.w * to.w) / r.w, h: (q.h * to.h) / r.h });
    }
    f.rect_mm = rounded(to);
  }
}

/** Cuts each field into n, and returns the pieces. Below each other they take the places of as many rows beside them. @param {Field[]} fields @param {Field[]} some @param {number} n @param {boolean} below */
export function split(fields, some, n, below) {
  /** @type {Field[]} */
  const pieces = [];
  const rest = fields.filter((f) => !some.includes(f));
  for (const f of some) {
    const r = f.rect_mm;
    const rows = below ? rowsBeside(rest, f) : [];
    // As far apart as those rows; what was drawn says from where the first to where the last one goes.
    const high = rows.length === n ? r.h - rows[n - 1].y + rows[0].y : 0;
    for (let i = 0; i < n; i++) {
      const rect = below ? { x: r.x, y: r.y + (r.h * i) / n, w: r.w, h: r.h / n } : { x: r.x + (r.w * i) / n, y: r.y, w: r.w / n, h: r.h };
      if (high >= 2) { rect.y = r.y + rows[i].y - rows[0].y; rect.h = high; }
      const piece = { ...f, rect_mm: rounded(rect) };
      if (piece.kind === 'choice' || piece.kind === 'printed') piece.options = [];
      pieces.push(piece);
    }
  }
  if (below) for (const p of pieces) p.row = rowAt(rest, pieces, p);
  const all = [...rest, ...pieces];
  name(all, pieces);
  return { all, pieces };
}

const middle = (/** @type {Field} */ f) => f.rect_mm.y + f.rect_mm.h / 2;
const apart = (/** @type {Field} */ a, /** @type {Field} */ b) => Math.max(a.rect_mm.x - b.rect_mm.x - b.rect_mm.w, b.rect_mm.x - a.rect_mm.x - a.rect_mm.w, 0);

/** The rows of the table beside a field, from the top: their places down the card. @param {Field[]} rest @param {Field} f */
function rowsBeside(rest, f) {
  /** @type {Rect[]} */
  const rows = [];
  const r = f.rect_mm;
  const near = rest.filter((o) => o.row && middle(o) > r.y && middle(o) < r.y + r.h).sort((a, b) => apart(a, f) - apart(b, f));
  for (const o of near) if (!rows.some((q) => Math.abs(q.y + q.h / 2 - middle(o)) < alike)) rows.push(o.rect_mm);
  return rows.sort((a, b) => a.y - b.y);
}

/** The row of the field beside it that is nearest; else the next that is free. @param {Field[]} rest @param {Field[]} pieces @param {Field} p */
function rowAt(rest, pieces, p) {
  const beside = rest.filter((f) => f.row && Math.abs(middle(f) - middle(p)) < p.rect_mm.h / 3).sort((a, b) => apart(a, p) - apart(b, p))[0];
  if (beside) return beside.row;
  return Math.max(0, ...rest.map((f) => f.row || 0), ...pieces.filter((f) => f !== p).map((f) => f.row || 0)) + 1;
}

/** Gives a field the number of the one row that it is drawn in, if it is. @param {Field[]} fields @param {Field} f */
export function inRow(fields, f) {
  const rows = rowsBeside(fields, f);
  if (rows.length !== 1 || Math.abs(rows[0].h - f.rect_mm.h) > 0.4 * rows[0].h) return;
  const beside = fields.find((o) => o.row && o.rect_mm === rows[0]);
  if (beside && !fields.some((o) => o !== f && o.row === beside.row && Math.abs(o.rect_mm.x - f.rect_mm.x) < alike)) f.row = beside.row;
}

/** Gives a field the letter of the panel that it is drawn right below or into the foot of, if it is: for the bibs drawn there. @param {Field[]} fields @param {Field} f */
export function underPanel(fields, f) {
  const r = f.rect_mm, x = r.x + r.w / 2;
  const over = fields.find((o) => o.part === 'drawing' && o.panel && x > o.rect_mm.x && x < o.rect_mm.x + o.rect_mm.w &&
    r.y - o.rect_mm.y - o.rect_mm.h > -alike && r.y - o.rect_mm.y - o.rect_mm.h < r.h);
  if (over) f.panel = over.panel;
  return Boolean(over);
}

/** Makes one of what stands side by side in each row: of places to tick a choice with a box for each, else a comb. Where a
 * table stands on the card more than once, what is drawn alike in the other blocks is joined too.
 * @param {Field[]} fields @param {Field[]} some */
export function join(fields, some) {
  /** @type {Field[]} */
  const joined = [];
  const left = [...some, ...elsewhere(fields, some)].sort((a, b) => a.rect_mm.x - b.rect_mm.x);
  const taken = new Set(left);
  const alone = (/** @type {number} */ row) => fields.every((f) => f.row !== row || some.includes(f));
  while (left.length) {
    const first = /** @type {Field} */ (left.shift());
    // Two blocks side by side have rows of their own on one line. A row of nothing but what is joined is none: boxes that stand
    // further apart were taken for a table of their own.
    const row = [first, ...left.filter((f) => Math.abs(f.rect_mm.y - first.rect_mm.y) < alike && (f.row === first.row || f.row && alone(f.row)))];
    for (const f of row.slice(1)) left.splice(left.indexOf(f), 1);
    // Whole: a hand draws no two boxes on one line, and one that lies outside its field can't be saved.
    const end = Math.max(...row.map((f) => f.rect_mm.x + f.rect_mm.w)), low = Math.max(...row.map((f) => f.rect_mm.y + f.rect_mm.h));
    const top = Math.min(...row.map((f) => f.rect_mm.y));
    const one = { ...first, rect_mm: rounded({ x: first.rect_mm.x, y: top, w: end - first.rect_mm.x, h: low - top }) };
    delete one.options;
    delete one.boxes;
    if (row.length > 1 && row.every((f) => f.kind === 'tick' || f.kind === 'choice')) {
      one.kind = 'choice';
      one.grammar = 'word';
      one.options = row.flatMap((f) => f.options || [{ value: '', label: '', rect_mm: f.rect_mm }]).map((o, i) => ({ value: o.value || String(i + 1), label: o.label || String(i + 1), rect_mm: { ...o.rect_mm } }));
    } else if (row.length > 1) {
      one.kind = 'comb';
      one.boxes = row.reduce((n, f) => n + (f.boxes || 1), 0);
      if (one.boxes === row.length) pieces.set(one, row.map((f) => f.rect_mm));
      if (['mark', 'word', 'drawing', 'free'].includes(one.grammar)) one.grammar = 'count';
    }
    joined.push(row.length > 1 ? one : first);
  }
  const all = [...fields.filter((f) => !taken.has(f)), ...joined];
  name(all, joined);
  return { all, joined, of: taken.size };
}

/** What is drawn as the chosen columns are, as far from each other, in rows of other blocks of the table.
 * @param {Field[]} fields @param {Field[]} some */
function elsewhere(fields, some) {
  const own = groupsOf(some), lead = own[0], rows = new Set(some.map((f) => f.row));
  const others = groupsOf(fields).filter((g) => g.every((f) => f.row && !rows.has(f.row) && !some.includes(f)));
  const like = (/** @type {Field} */ a, /** @type {Field} */ b) => a.kind === b.kind && Math.abs(a.rect_mm.w - b.rect_mm.w) < alike && Math.abs(a.rect_mm.h - b.rect_mm.h) < alike;
  /** @type {Set<Field>} */
  const found = new Set();
  if (own.length < 2 || !lead[0].row) return found;
  // How far in from the left of its block; the next columns in a block may stand as far apart.
  const inset = (/** @type {Field} */ f) => f.rect_mm.x - Math.min(...fields.filter((o) => o.row === f.row).map((o) => o.rect_mm.x));
  for (const g of others) {
    if (Math.abs(inset(g[0]) - inset(lead[0])) > alike) continue;
    const block = own.map((c) => others.find((o) => like(o[0], c[0]) && o[0].row === g[0].row && o.length === g.length &&
      Math.abs(o[0].rect_mm.x - g[0].rect_mm.x - c[0].rect_mm.x + lead[0].rect_mm.x) < alike));
    if (block.every(Boolean)) block.flatMap((o) => o || []).forEach((f) => found.add(f));
  }
  return found;
}

/** The columns that stand where the chosen one does in other blocks of its table, and are so far said to be for the same. A block is
 * another one of the same table if all that stands in its rows is as wide, as far in, and in as many rows.
 * @param {Field[]} fields @param {Field[]} some @returns {Field[][]} */
export function inOtherBlocks(fields, some) {
  const all = groupsOf(fields), rows = new Set(some.map((f) => f.row)), lead = some[0];
  if (!lead?.row || !all.some((g) => g.length === some.length && g.every((f) => some.includes(f)))) return [];
  const own = columnsIn(fields, rows), place = (/** @type {Field} */ f, /** @type {Column[]} */ block) => f.rect_mm.x - block[0].x;
  return all.filter((g) => {
    const f = g[0], theirs = new Set(g.map((o) => o.row));
    if (!f.row || g.length !== some.length || g.some((o) => rows.has(o.row)) || f.part !== lead.part ||
      f.kind !== lead.kind || f.boxes !== lead.boxes || (f.options || []).length !== (lead.options || []).length) return false;
    const block = columnsIn(fields, theirs);
    return Math.abs(place(f, block) - place(lead, own)) < alike && block.length === own.length && block.every((c, i) => c.n === own[i].n &&
      Math.abs(c.w - own[i].w) < alike && Math.abs(c.h - own[i].h) < alike && Math.abs(c.x - block[0].x - own[i].x + own[0].x) < alike);
  });
}

/** @typedef {{x: number, w: number, h: number, n: number}} Column */

/** What stands in some rows, column by column from the left, whatever it is for. @param {Field[]} fields @param {Set<number | undefined>} rows */
function columnsIn(fields, rows) {
  /** @type {Column[]} */
  const columns = [];
  for (const f of fields) {
    if (!rows.has(f.row)) continue;
    const r = f.rect_mm, c = columns.find((o) => Math.abs(o.x - r.x) < alike && Math.abs(o.w - r.w) < 2 * alike);
    if (c) c.n++;
    else columns.push({ x: r.x, w: r.w, h: r.h, n: 1 });
  }
  return columns.sort((a, b) => a.x - b.x);
}
