// @ts-check
// Lets a box be drawn on the straightened front with mouse or pen. Without it, a row's number is chosen.
import { t } from './say.js';

const svgNS = 'http://www.w3.org/2000/svg';

/** The place of a pointer in the drawing's own units, mm of the sheet. @param {SVGSVGElement} svg @param {PointerEvent} e */
function at(svg, e) {
  const m = svg.getScreenCTM();
  return new DOMPoint(e.clientX, e.clientY).matrixTransform(m ? m.inverse() : new DOMMatrix());
}

export function rowBox() {
  const svg = document.querySelector('svg[data-draw]');
  const field = document.querySelector('input[data-rowbox]');
  const words = document.querySelector('[data-rowbox-words]');
  if (!(svg instanceof SVGSVGElement) || !(field instanceof HTMLInputElement)) return;
  /** @type {DOMPoint | null} */
  let from = null;
  const box = document.createElementNS(svgNS, 'rect');
  box.setAttribute('class', 'drawn');
  svg.addEventListener('pointerdown', (e) => {
    if (e.button !== 0 || e.pointerType === 'touch') return; // a finger scrolls
    e.preventDefault();
    svg.setPointerCapture(e.pointerId);
    from = at(svg, e);
  });
  svg.addEventListener('pointermove', (e) => {
    if (!from) return;
    const to = at(svg, e);
    const x = Math.max(Math.min(from.x, to.x), 0), y = Math.max(Math.min(from.y, to.y), 0);
    const w = Math.abs(to.x - from.x), h = Math.abs(to.y - from.y);
    for (const [name, v] of Object.entries({ x, y, width: w, height: h })) box.setAttribute(name, v.toFixed(1));
    svg.append(box);
    field.value = [x, y, w, h].map((v) => v.toFixed(1)).join(',');
  });
  svg.addEventListener('pointerup', () => {
    if (!from) return;
    from = null;
    const [, , w, h] = field.value.split(',').map(Number);
    if (!(w > 1 && h > 1)) { // a click, not a box
      field.value = '';
      box.remove();
      return;
    }
    const row = document.getElementById('row');
    if (row instanceof HTMLSelectElement) row.value = '';
    if (words) words.textContent = t('A box is drawn. Press "Add this row".');
  });
}
