// @ts-check
// Fetches the next ink while this one is being read, so that the next entry is there at once.

export function fetchEarly() {
  const after = document.querySelector('[data-after]')?.getAttribute('data-after');
  if (!after) return;
  const img = new Image();
  img.src = after;
}
