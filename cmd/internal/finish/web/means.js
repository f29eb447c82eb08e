// @ts-check
// What the words of a layout mean, for people.

/** @type {Record<string, string>} */
export const partMeans = {
  bib: 'number of the racer', 'bib-again': 'the same number, written once more', card: 'number of this card, as in the placing list',
  'card-of': 'which of its judge\'s cards this is', code: 'what happened', course: 'course', date: 'day', drawing: 'drawing of gate and path',
  gate: 'gate where it happened', 'gate-from': 'first gate that the judge watches', 'gate-to': 'last gate that the judge watches',
  'gate-more': 'further gates that the judge watches', group: 'group, such as girls or boys', judge: 'name of the judge',
  panel: 'letter of the drawing that belongs to the row', passed: 'mark for a racer who came by', phone: 'phone number of the judge',
  remark: 'remark in words', rerun: 'mark for a re-run', 'row-count': 'how many rows are used', run: 'run', unnamed: 'nobody has said yet what for',
};

/** @type {Record<string, string>} */
export const kindMeans = {
  comb: 'boxes, one digit or letter in each', cell: 'one box for a whole number or word', tick: 'one box to tick', choice: 'several boxes to tick, or words to ring',
  printed: 'stands there in print', text: 'line for words', drawing: 'kept as a picture',
};

/** @type {Record<string, string>} */
export const grammarMeans = {
  bib: 'a racer\'s number', gate: 'a gate, such as 12 or 12-14', code: 'a code of the race', 'code-gate': 'code and gate in one, such as F12', panel: 'a letter',
  count: 'a whole number', mark: 'marked or not', word: 'one of its words', free: 'anything', drawing: 'a picture', identity: 'printed by gatefold',
};
