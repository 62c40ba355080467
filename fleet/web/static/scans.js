// One letter answers the question that has the focus. Without this script its buttons do the same.
(() => {
  const asks = [...document.querySelectorAll('[data-ask]')];
  document.querySelector('[data-keys]').hidden = false;
  const named = location.hash && document.getElementById(location.hash.slice(1));
  const faults = document.getElementById('faults');
  const first = faults || named || document.querySelector('[data-open]');
  if (first) first.focus();
  document.addEventListener('keydown', event => {
    const ask = event.target.closest('[data-ask]');
    const isTyping = event.target.matches('input:not([type=checkbox])');
    if (!ask || isTyping || event.ctrlKey || event.metaKey || event.altKey) return;
    const letter = event.key.toLowerCase();
    const button = /^[a-z]$/.test(letter) && ask.querySelector(`[data-key="${letter}"]`);
    if (!button) return;
    event.preventDefault();
    const words = button.value === 'explained' && ask.querySelector('[name=words]');
    if (words && !words.value) {
      words.closest('details').open = true;
      words.focus();
    } else button.click();
  });
})();
