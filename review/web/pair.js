// @ts-check
// Takes the code of a scanned square out of the address, where it would stay to be seen, into the form.

const code = decodeURIComponent(location.hash.slice(1));
const field = document.getElementById('code');
if (code && field instanceof HTMLInputElement) {
  field.value = code;
  history.replaceState(null, '', location.pathname);
  document.getElementById('name')?.focus();
}
