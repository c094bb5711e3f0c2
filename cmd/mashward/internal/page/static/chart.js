// What lies under a finger, or under the slider below the chart, in words. Without it
// the page of the chart has the same figures as a table.
(() => {
  'use strict';

  const fahrenheit = new URLSearchParams(location.search).get('unit') === 'F' || document.documentElement.dataset.scale === 'F';
  const degrees = c => (fahrenheit ? c * 9 / 5 + 32 : c).toFixed(1) + (fahrenheit ? ' °F' : ' °C');
  const clock = seconds => {
    const minutes = Math.floor(seconds / 60);
    return Math.floor(minutes / 60) + ':' + String(minutes % 60).padStart(2, '0');
  };

  for (const figure of document.querySelectorAll('figure[data-course]')) {
    const place = figure.querySelector('.moment'), slider = place.querySelector('input'), output = place.querySelector('output');
    const line = figure.appendChild(document.createElement('div'));
    line.className = 'cursor';
    line.hidden = true;
    place.hidden = false;
    let course = null, asked = 0;

    // What is drawn now: the script of the first page puts in a new picture now and then.
    const drawn = () => [...figure.querySelectorAll('svg')].find(svg => svg.getClientRects().length > 0);
    const scale = () => {
      const svg = drawn(), box = svg.getBoundingClientRect(), k = box.width / svg.viewBox.baseVal.width;
      const n = name => Number(svg.dataset[name]);
      return { box, left: box.left + n('left') * k, right: box.left + n('right') * k, from: n('from'), to: n('to') };
    };
    const load = async () => {
      if (course && Date.now() - asked < 15000) return;
      asked = Date.now();
      try {
        const answer = await fetch('/course.json' + (figure.dataset.step ? '?step=' + figure.dataset.step : ''));
        if (answer.ok) course = await answer.json();
      } catch { /* what was there before still holds, but for what came since */ }
    };
    const words = at => {
      if (!course || course.moments.length === 0) return 'No figures have come.';
      const [seconds, read, target, planned, duty, step] = course.moments.reduce((a, b) => Math.abs(b[0] - at) < Math.abs(a[0] - at) ? b : a);
      const parts = [];
      parts.push(read !== null ? degrees(read) + ' read' : step !== null ? 'no reading' : 'not yet');
      if (target !== null) parts.push('target ' + degrees(target));
      if (planned !== null) parts.push('planned ' + degrees(planned));
      if (duty !== null) parts.push('heat ' + Math.round(duty * 100) + ' %');
      if (step !== null && course.titles[step]) parts.push(course.titles[step].replace(/ at -?[\d.]+ °C/, ''));
      return clock(seconds) + ': ' + parts.join(', ') + '.';
    };
    let wanted = 0;
    const show = async () => {
      const mine = ++wanted;
      await load();
      if (mine !== wanted) return;
      const s = scale(), share = Number(slider.value) / Number(slider.max), frame = figure.getBoundingClientRect();
      output.textContent = words(s.from + share * (s.to - s.from));
      slider.setAttribute('aria-valuetext', output.textContent);
      line.style.left = s.left + share * (s.right - s.left) - frame.left + 'px';
      line.style.top = s.box.top - frame.top + 'px';
      line.style.height = s.box.height + 'px';
      line.hidden = false;
    };
    const point = event => {
      if (!event.target.closest('svg') || event.type === 'pointermove' && event.pointerType !== 'mouse' && !event.buttons) return;
      const s = scale();
      slider.value = Math.round(Math.min(1, Math.max(0, (event.clientX - s.left) / (s.right - s.left))) * Number(slider.max));
      show();
    };
    figure.addEventListener('pointerdown', point);
    figure.addEventListener('pointermove', point);
    slider.addEventListener('input', show);
    addEventListener('resize', () => { line.hidden = true; });
  }
})();
