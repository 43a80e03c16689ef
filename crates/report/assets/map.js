// The map of people: coloured by the column that a reader picks. Groups differ by mark and colour, numbers by a ramp.

const MARKS = ["M-4 0a4 4 0 1 0 8 0a4 4 0 1 0-8 0", "M-3.6-3.6h7.2v7.2h-7.2z", "M0-5L4.6 3.4h-9.2z", "M0-5.2L5.2 0L0 5.2L-5.2 0z", "M0 5L4.6-3.4h-9.2z", "M-4.6-1.6h3v-3h3.2v3h3v3.2h-3v3h-3.2v-3h-3z"];

document.querySelectorAll("[data-people-map]").forEach((root) => {
  const sent = jsonOf(root.dataset.peopleMap);
  const select = root.querySelector("select");
  const keys = root.querySelector("[data-map-keys]");
  const people = [...root.querySelectorAll("path[data-person]")];
  const ramp = (t) => {
    const s = Math.min(Math.max(t, 0), 1) * 4;
    const i = Math.min(Math.floor(s), 3);
    const c = RAMP[i].map((v, k) => v + (RAMP[i + 1][k] - v) * (s - i));
    return `rgb(${c.map((v) => Math.round(v * 255)).join(" ")})`;
  };
  const key = (mark, colour, klass, text) => {
    const item = document.createElement("li");
    item.innerHTML = `<svg width="26" height="14" viewBox="0 0 26 14" aria-hidden="true"><path transform="translate(13 7)" d="${mark}"/></svg><span class="quiet"></span>`;
    const path = item.querySelector("path");
    path.setAttribute("class", `person ${klass}`);
    if (colour) path.style.fill = colour;
    item.querySelector("span").textContent = text;
    return item;
  };
  const paint = () => {
    const column = sent.columns[select.selectedIndex];
    keys.replaceChildren();
    if (column.groups) {
      column.groups.forEach((g, k) => {
        const n = column.values.filter((v) => v === k).length;
        keys.append(key(MARKS[k % MARKS.length], "", `s${(k % 6) + 1}`, `${g} (${n})`));
      });
    } else {
      [[column.low, 0], [(column.low + column.high) / 2, 0.5], [column.high, 1]].forEach(([v, t]) => {
        keys.append(key(MARKS[0], ramp(t), "ramped", numberText(v, column.decimals)));
      });
    }
    if (column.values.some((v) => v === null)) keys.append(key(MARKS[0], "", "missing", "no value"));
    people.forEach((p) => {
      const i = Number(p.dataset.person);
      const v = column.values[i];
      p.style.fill = "";
      if (v === null) {
        p.setAttribute("class", "person missing");
        p.setAttribute("d", MARKS[0]);
      } else if (column.groups) {
        p.setAttribute("class", `person s${(v % 6) + 1}`);
        p.setAttribute("d", MARKS[v % MARKS.length]);
      } else {
        p.setAttribute("class", "person ramped");
        p.setAttribute("d", MARKS[0]);
        p.style.fill = ramp((v - column.low) / (column.high - column.low || 1));
      }
      const word = v === null ? "no value" : column.groups ? column.groups[v] : numberText(v, column.decimals);
      p.querySelector("title").textContent = `${sent.people[i]}: ${word}`;
    });
  };
  select.disabled = false;
  root.classList.add("is-live");
  select.addEventListener("change", paint);
  paint();
});
