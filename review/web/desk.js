// @ts-check
// Adds to a page that works without it: keys, the loupe, an early fetch.
import { listen } from './keys.js';
import { loupe } from './loupe.js';
import { fetchEarly } from './early.js';
import { rowBox } from './rowbox.js';
import { keep } from './keep.js';
import { live } from './live.js';
import { once } from './once.js';
import { clocks } from './clock.js';

keep();
listen();
loupe();
fetchEarly();
rowBox();
live();
clocks();
once(); // after whatever else may hold a form back

// A page that says what was not possible leads back to the form that was sent.
const back = document.getElementById('back');
if (back && history.length > 1) {
  back.hidden = false;
  back.addEventListener('click', () => history.back());
}

// What was refused may stand far down the page, beside the form that it is said of.
document.querySelector('main .wrong:not([hidden])')?.scrollIntoView({ block: 'center' });
