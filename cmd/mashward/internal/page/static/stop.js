// STOP by script: held for a moment, so that a sleeve or a wiped screen does not stop a
// brew day, and pressed twice as well. A keyboard, or what presses for people who
// cannot, stops at once; so does every press where this script does not run.
(() => {
  'use strict';

  const long = 700; // ms that it is held
  const twice = 3000; // ms within which a second press does
  const form = document.getElementById('stop');
  const button = form.querySelector('button');
  const label = button.firstElementChild;
  const hint = document.getElementById('stop-hint');
  const trouble = document.getElementById('trouble');

  // A form alone would show the browser's own page where STOP did not arrive.
  let under = false;
  const send = () => {
    if (under) return;
    under = true;
    label.textContent = form.dataset.sent;
    const limit = new AbortController();
    const timer = setTimeout(() => limit.abort(), 7000);
    const slow = setTimeout(() => { label.textContent = form.dataset.slow; }, 2000);
    fetch(form.action, { method: 'POST', body: new URLSearchParams(), signal: limit.signal })
      .then(answer => {
        if (!answer.ok) throw new Error(String(answer.status));
        location.assign(answer.url);
      })
      .catch(() => {
        trouble.textContent = form.dataset.failed;
        trouble.hidden = false;
        scrollTo(0, 0);
        label.textContent = form.dataset.hold;
      })
      .finally(() => {
        clearTimeout(timer);
        clearTimeout(slow);
        under = false;
      });
  };
  form.addEventListener('submit', event => {
    event.preventDefault();
    send();
  });

  let held = 0, short = -twice, pointed = -twice;
  const rest = () => {
    clearTimeout(held);
    held = 0;
    button.classList.remove('held');
    if (!under) label.textContent = form.dataset.hold;
  };
  const done = () => {
    rest();
    hint.hidden = true;
    if (navigator.vibrate) navigator.vibrate(80);
    send();
  };
  button.addEventListener('pointerdown', event => {
    if (event.button !== 0 || held) return;
    button.setPointerCapture(event.pointerId);
    button.classList.add('held');
    label.textContent = form.dataset.holding;
    held = setTimeout(done, long);
  });
  const tooShort = () => {
    pointed = performance.now();
    if (!held) return;
    rest();
    if (pointed - short < twice) {
      short = -twice;
      return done();
    }
    short = pointed;
    hint.hidden = false;
  };
  button.addEventListener('pointerup', tooShort);
  button.addEventListener('pointercancel', tooShort);
  button.addEventListener('pointermove', event => {
    const box = button.getBoundingClientRect(), slip = 32;
    if (held && (event.clientX < box.left - slip || event.clientX > box.right + slip || event.clientY < box.top - slip)) tooShort();
  });
  button.addEventListener('contextmenu', event => event.preventDefault());
  // The press of a finger or a mouse was taken above; any other goes on to the form.
  button.addEventListener('click', event => {
    if (event.detail !== 0 && performance.now() - pointed < 1000) event.preventDefault();
  });
  label.textContent = form.dataset.hold;
})();
