// @ts-check
// The loupe shows the framed field closer: the field, half of it at a time, or the whole row.

export function loupe() {
  const svg = document.querySelector('.loupe svg');
  if (!svg) return;
  const field = (svg.getAttribute('viewBox') ?? '').split(' ').map(Number);
  const row = (svg.getAttribute('data-row') ?? '').split(' ').map(Number);
  const [x, y, w, h] = field;
  const views = [field, [x + w * 0.2, y + h * 0.2, w * 0.6, h * 0.6], row];
  let at = 0;
  document.addEventListener('loupe', () => {
    at = (at + 1) % views.length;
    svg.setAttribute('viewBox', views[at].join(' '));
  });
}
