namespace MeshTrace.Reports.Page;

/// <summary>
/// The script: it shows what a mark tells beside the pointer, and zooms the timeline along the time and the hop graph as a whole, by buttons, keys and
/// dragging. Without it the page says the same: marks have titles, and everything drawn stands in a table.
/// </summary>
internal static class PageScript
{
    public const string Text =
        """

        (() => {
          'use strict';
          const tip = document.createElement('div');
          tip.className = 'tip';
          tip.hidden = true;
          document.body.append(tip);
          const words = new WeakMap();
          for (const mark of document.querySelectorAll('svg .told')) {
            const title = mark.querySelector('title');
            if (title) { words.set(mark, title.textContent); title.remove(); }
          }
          const show = event => {
            const mark = event.target.closest ? event.target.closest('.told') : null;
            if (!mark || !words.has(mark)) { tip.hidden = true; return; }
            tip.textContent = words.get(mark);
            tip.hidden = false;
            const room = document.documentElement.clientWidth - tip.offsetWidth - 8;
            tip.style.left = window.scrollX + Math.max(8, Math.min(event.clientX + 12, room)) + 'px';
            tip.style.top = window.scrollY + event.clientY + 16 + 'px';
          };
          document.addEventListener('pointermove', show);
          document.addEventListener('pointerdown', show);
          document.addEventListener('keydown', event => { if (event.key === 'Escape') tip.hidden = true; });

          const two = number => String(number).padStart(2, '0');
          const clock = (ms, step) => {
            const date = new Date(ms), iso = date.toISOString();
            return step >= 86400000 ? iso.slice(5, 10) : step >= 60000 ? iso.slice(11, 16) : step >= 1000 ? iso.slice(11, 19) : two(date.getUTCSeconds()) + iso.slice(19, 23);
          };
          const steps = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1e3, 2e3, 5e3, 1e4, 2e4, 3e4, 6e4, 12e4, 3e5, 6e5, 12e5, 18e5, 36e5, 72e5, 144e5, 288e5, 432e5, 864e5];
          const element = (name, attributes, text) => {
            const made = document.createElementNS('http://www.w3.org/2000/svg', name);
            for (const key in attributes) made.setAttribute(key, attributes[key]);
            if (text) made.textContent = text;
            return made;
          };

          const alongTime = svg => {
            const left = +svg.dataset.left, length = +svg.dataset.length, from = +svg.dataset.from, to = +svg.dataset.to, bottom = +svg.dataset.bottom;
            const ticks = svg.querySelector('.ticks'), stretch = svg.querySelector('.stretch'), places = [...svg.querySelectorAll('.place')];
            const most = Math.max(1, (to - from) / 20);
            return (zoom, start) => {
              stretch.setAttribute('transform', `translate(${left - start * length * zoom} 0) scale(${zoom} 1)`);
              for (const place of places) {
                const x = (place.dataset.x - start * length) * zoom;
                place.setAttribute('transform', `translate(${left + x} ${place.dataset.y})`);
                place.setAttribute('visibility', x < -7 || x > length + 7 ? 'hidden' : 'visible');
              }
              const begin = from + start * (to - from), span = (to - from) / zoom;
              const step = steps.find(one => span / one <= 8) || Math.ceil(span / 8 / 864e5) * 864e5;
              ticks.replaceChildren();
              for (let at = Math.ceil(begin / step) * step; at <= begin + span; at += step) {
                const x = left + (at - begin) / span * length;
                ticks.append(element('path', { d: `M${x} 18V${bottom}`, class: 'tick' }), element('text', { x: Math.max(left + 24, Math.min(x, 768)), y: 13, class: 'label', 'text-anchor': 'middle' }, clock(at, step)));
              }
              return most;
            };
          };
          const asAWhole = svg => {
            const whole = svg.viewBox.baseVal, width = whole.width, height = whole.height;
            return (zoom, start, high) => {
              svg.setAttribute('viewBox', `${start * width} ${high * height} ${width / zoom} ${height / zoom}`);
              return 8;
            };
          };

          for (const svg of document.querySelectorAll('svg[data-zoom="time"],svg[data-zoom="all"]')) {
            const draw = svg.dataset.zoom === 'time' ? alongTime(svg) : asAWhole(svg);
            const frame = svg.parentNode, name = frame.getAttribute('aria-label');
            let zoom = 1, start = 0, high = 0, most = draw(1, 0, 0);
            const place = (newZoom, newStart, newHigh) => {
              zoom = Math.max(1, Math.min(newZoom, most));
              start = Math.max(0, Math.min(newStart, 1 - 1 / zoom));
              high = Math.max(0, Math.min(newHigh, 1 - 1 / zoom));
              svg.dataset.zoomed = zoom;
              tip.hidden = true;
              draw(zoom, start, high);
            };
            const around = factor => {
              const after = Math.max(1, Math.min(zoom * factor, most)), gain = (1 / zoom - 1 / after) / 2;
              place(after, start + gain, high + gain);
            };
            const move = (across, down) => place(zoom, start + across / zoom / 4, high + down / zoom / 4);
            const deeds = { '+': () => around(2), '=': () => around(2), '-': () => around(0.5), '0': () => place(1, 0, 0) };
            const tools = document.createElement('div');
            tools.className = 'tools';
            for (const [sign, says, deed] of [['+', 'Zoom in', deeds['+']], ['\u2212', 'Zoom out', deeds['-']], ['\u2190', 'Move left', () => move(-1, 0)], ['\u2192', 'Move right', () => move(1, 0)], ...(svg.dataset.zoom === 'all' ? [['\u2191', 'Move up', () => move(0, -1)], ['\u2193', 'Move down', () => move(0, 1)]] : []), ['Whole', 'Show the whole', deeds['0']]]) {
              const button = document.createElement('button');
              button.type = 'button';
              button.textContent = sign;
              button.setAttribute('aria-label', sign === 'Whole' ? 'Whole: ' + name : says + ': ' + name);
              button.title = says;
              button.addEventListener('click', deed);
              tools.append(button);
            }
            frame.before(tools);
            frame.addEventListener('keydown', event => {
              if (event.ctrlKey || event.altKey || event.metaKey || !deeds[event.key]) return;
              event.preventDefault();
              deeds[event.key]();
            });
            svg.addEventListener('dblclick', event => {
              const box = svg.getBoundingClientRect(), at = start + Math.max(0, (event.clientX - box.left) / box.width) / zoom;
              place(zoom * 2, at - 0.25 / zoom, high + (event.clientY - box.top) / box.height / zoom - 0.25 / zoom);
            });
            let held = null;
            svg.addEventListener('pointerdown', event => { if (event.pointerType === 'mouse' && zoom > 1) held = { x: event.clientX, y: event.clientY, start, high }; });
            svg.addEventListener('pointermove', event => {
              if (!held) return;
              const box = svg.getBoundingClientRect();
              place(zoom, held.start - (event.clientX - held.x) / box.width / zoom, held.high - (event.clientY - held.y) / box.height / zoom);
            });
            for (const end of ['pointerup', 'pointerleave']) svg.addEventListener(end, () => { held = null; });
          }
        })();

        """;
}
