// @ts-check
// Shows the page anew once a phone came in or a code has gone.

const page = document.getElementById('phones');
setInterval(async () => {
  try {
    const answer = await fetch('/phones?stamp');
    if (answer.ok && (await answer.text()) !== page?.dataset.stamp) location.reload();
  } catch { /* the desk was closed: the page says so when it is used */ }
}, 2000);
