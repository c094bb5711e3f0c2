// Takes the code out of the address that was scanned, so that it need not be
// typed, and out of the history. Pairing itself takes a press: a program that
// looks at links for somebody must not use up the code.
(() => {
  'use strict';
  const code = document.getElementById('code');
  const brought = location.hash.slice(1);
  if (!code || !/^[0-9A-Za-z-]{1,24}$/.test(brought)) return;
  code.value = brought;
  history.replaceState(null, '', location.pathname);
})();
