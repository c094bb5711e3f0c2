// Calls out loud what the page shows in words: a new prompt, alarm or heat cut. Off
// until a person asks for it, and never the only sign of anything. It reads what
// stands on the page and changes nothing but its own button.
(() => {
  'use strict';

  const by = id => document.getElementById(id);
  const button = by('sound'), note = by('sound-note');
  const Context = window.AudioContext || window.webkitAudioContext;
  if (!button || !Context && !navigator.vibrate) return;
  by('sound-box').hidden = false;

  const wanted = 'sound', known = 'sound-known'; // for this tab alone
  const every = 60000, most = 5; // ms between repeats, and how many

  let audio = null;
  const on = () => button.getAttribute('aria-pressed') === 'true';
  const show = state => {
    button.setAttribute('aria-pressed', String(state === 'on'));
    note.textContent = note.dataset[state];
  };

  // Three notes for what is grave, two rising ones for what is asked: Hz and s.
  const tones = { grave: [[620, 0], [620, 0.35], [620, 0.7]], asked: [[660, 0], [880, 0.3]] };
  const play = kind => {
    if (navigator.vibrate) navigator.vibrate(kind === 'grave' ? [300, 150, 300, 150, 300] : [200, 100, 200]);
    if (!audio || audio.state !== 'running') return;
    for (const [hertz, after] of tones[kind]) {
      const from = audio.currentTime + after;
      const tone = audio.createOscillator(), level = audio.createGain();
      tone.frequency.value = hertz;
      level.gain.setValueAtTime(0, from); // no click at either end
      level.gain.linearRampToValueAtTime(0.4, from + 0.02);
      level.gain.setValueAtTime(0.4, from + 0.2);
      level.gain.linearRampToValueAtTime(0, from + 0.25);
      tone.connect(level).connect(audio.destination);
      tone.start(from);
      tone.stop(from + 0.3);
    }
  };

  // What calls for somebody now, by what the page shows.
  const seen = id => by(id) && !by(id).hidden;
  const calling = () => {
    const all = {};
    if (seen('prompt')) all['prompt ' + by('prompt-id').value] = 'asked';
    if (seen('alarms')) for (const li of by('alarms').children) all[li.textContent] = 'grave';
    for (const id of ['trip', 'cut', 'stale', 'offer']) if (seen(id)) all[id] = 'grave';
    return all;
  };
  const worst = all => Object.values(all).includes('grave') ? 'grave' : 'asked';

  let before = JSON.parse(sessionStorage.getItem(known) || '{}');
  let times = 0, last = 0;
  const look = () => {
    const all = calling();
    const fresh = Object.fromEntries(Object.entries(all).filter(([key]) => !(key in before)));
    before = all;
    sessionStorage.setItem(known, JSON.stringify(all));
    if (Object.keys(fresh).length > 0) times = 0;
    else if (Object.keys(all).length === 0 || times >= most || Date.now() - last < every) return;
    times++;
    last = Date.now();
    if (on()) play(worst(Object.keys(fresh).length > 0 ? fresh : all));
  };

  const turn = async pressed => {
    if (Context) {
      audio = audio || new Context();
      await Promise.race([audio.resume(), new Promise(done => setTimeout(done, 300))]).catch(() => {});
    }
    const may = !Context || audio.state === 'running';
    show(may ? 'on' : 'again');
    if (may && pressed) play('asked'); // so that it is known how it sounds
  };
  button.addEventListener('click', () => {
    if (on()) {
      sessionStorage.removeItem(wanted);
      if (audio) audio.suspend();
      show('off');
      return;
    }
    sessionStorage.setItem(wanted, 'yes');
    turn(true);
  });

  const begin = async () => {
    if (sessionStorage.getItem(wanted)) await turn(false);
    look();
    new MutationObserver(look).observe(document.querySelector('main'), { subtree: true, childList: true, characterData: true, attributes: true, attributeFilter: ['hidden', 'value'] });
    setInterval(look, 5000);
  };
  begin();
})();
