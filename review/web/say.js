// @ts-check
// Texts of scripts in the page's language. English is what stands in the scripts; others are handed over by the page.

/** @type {Record<string, string>} */
const texts = JSON.parse(document.documentElement.dataset.texts ?? '{}');

/** @param {string} text in English */
export const t = (text) => texts[text] ?? text;
