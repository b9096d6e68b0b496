// What only a browser can do: its address, its clipboard, its cookies, pictures of charts.
const ask = window.fetch.bind(window);
let waiting = 0;
window.fetch = async (...what) => {
  busy(waiting += 1);
  try {
    const answer = await ask(...what);
    // a session that has ended: the page that asks for a login says so better than a view that no longer answers
    if (answer.status === 401) window.location.reload();
    return answer;
  } finally {
    busy(waiting -= 1);
  }
};

// numbers of a grid in the reader's way of writing them; columns stay numbers, so that they sort and filter as such
window.dashAgGridFunctions = window.dashAgGridFunctions || {};
window.dashAgGridFunctions.evenrunNumber = (value, digits, decimal, group) => {
  if (typeof value !== "number") return "";
  const [whole, part] = Math.abs(value).toFixed(digits).split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, group);
  const sign = value < 0 && Number(value.toFixed(digits)) !== 0 ? "-" : "";
  return sign + grouped + (part ? decimal + part : "");
};

// a cell for the shape of a range: choices to pick from, and room to type one with its number, such as lognormal 1.2
window.dashAgGridFunctions.EvenrunShape = class {
  init(params) {
    const list = document.createElement("datalist");
    list.id = "evenrun-shapes";
    for (const shape of params.shapes) list.append(new Option(shape));
    this.input = document.createElement("input");
    this.input.setAttribute("list", list.id);
    this.input.setAttribute("aria-label", "Shape");
    this.input.className = "shape-editor";
    this.input.value = params.eventKey && params.eventKey.length === 1 ? params.eventKey : params.value || "";
    this.place = document.createElement("div");
    this.place.append(this.input, list);
  }

  getGui() {
    return this.place;
  }

  afterGuiAttached() {
    this.input.focus();
    this.input.select();
  }

  getValue() {
    return this.input.value;
  }
};

// the style sheet shows a line that moves as soon as a call takes longer than a moment
function busy(calls) {
  document.documentElement.classList.toggle("busy", calls > 0);
  document.getElementById("content")?.setAttribute("aria-busy", String(calls > 0));
}

// the file input inside a place to drop a file has no name, and its component nothing to give it one
const uploads = {"drawing-upload": "Drawing of the carton", "book-upload": "Order book"};
new MutationObserver(() => {
  for (const [id, name] of Object.entries(uploads)) {
    const input = document.querySelector(`#${id} input[type=file]:not([aria-label])`);
    if (input) input.setAttribute("aria-label", name);
  }
}).observe(document.documentElement, {childList: true, subtree: true});

// the sheet as its heads mark it: taken to any moment, and played; the figure holds every stroke and its seconds
const sheet = {
  graph: () => document.querySelector("#chart-path .js-plotly-plot"),
  shown: null,  // seconds from the start of the sheet
  run: null,  // while it is played: where and when it began
  own: new Set(),  // values of the slider that playing has set itself

  // points of every head, stroke by stroke, with their distance from the stroke's start
  strokes(graph) {
    if (sheet.read !== graph.data) {
      sheet.read = graph.data;
      sheet.heads = graph.data.filter((trace) => trace.meta?.role === "to mark").map((trace) => {
        const strokes = [];
        let stroke = [];
        Array.from(trace.x).forEach((x, i) => {
          if (x === null) {
            strokes.push(stroke);
            stroke = [];
            return;
          }
          const y = trace.y[i];
          const last = stroke[stroke.length - 1];
          stroke.push({x, y, along: last ? last.along + Math.hypot(x - last.x, y - last.y) : 0});
        });
        return stroke.length ? [...strokes, stroke] : strokes;
      });
    }
    return sheet.heads;
  },

  between: (one, other, share) => ({x: one.x + (other.x - one.x) * share, y: one.y + (other.y - one.y) * share}),

  // what a head has marked after so many seconds, where it is, and how many strokes it has done
  after(strokes, {start, end}, seconds) {
    const x = [], y = [];
    const mark = (points) => {
      if (x.length) x.push(null), y.push(null);
      for (const point of points) x.push(point.x), y.push(point.y);
    };
    let at = strokes.length ? strokes[strokes.length - 1].at(-1) : null;
    let left = 0;
    for (let i = 0; i < strokes.length; i += 1) {
      const points = strokes[i];
      if (seconds < start[i]) {
        const share = start[i] > left ? Math.max(0, (seconds - left) / (start[i] - left)) : 1;
        return {x, y, at: sheet.between(at, points[0], share), done: i};
      }
      if (seconds < end[i]) {
        const way = points.at(-1).along * (seconds - start[i]) / (end[i] - start[i]);
        const next = Math.max(1, points.findIndex((point) => point.along >= way));
        const [one, other] = [points[next - 1], points[next]];
        at = sheet.between(one, other, other.along > one.along ? (way - one.along) / (other.along - one.along) : 0);
        mark([...points.slice(0, next), at]);
        return {x, y, at, done: i};
      }
      mark(points);
      at = points.at(-1);
      left = end[i];
    }
    return {x, y, at, done: strokes.length};
  },

  // take the picture to a moment
  show(seconds) {
    const graph = sheet.graph();
    const meta = graph?.layout?.meta;
    if (!meta || !window.Plotly) return;
    sheet.shown = Math.min(Math.max(seconds, 0), meta.total_s);
    if (!graph.calcdata) {  // not drawn yet
      window.requestAnimationFrame(() => sheet.show(sheet.shown));
      return;
    }
    const heads = sheet.strokes(graph).map((strokes, i) => sheet.after(strokes, meta.heads[i], sheet.shown));
    const data = [], traces = [];
    graph.data.forEach((trace, i) => {
      const head = heads[(trace.meta?.head || 0) - 1];
      // a line of one point is none, but a trace without any would leave the legend
      const marked = () => (head.x.length || !head.at ? {x: head.x, y: head.y} : {x: [head.at.x], y: [head.at.y]});
      if (trace.meta?.role === "marked") data.push(marked()), traces.push(i);
      if (trace.meta?.role === "here" && head.at) data.push({x: [head.at.x], y: [head.at.y]}), traces.push(i);
    });
    const atOnce = {mode: "immediate", transition: {duration: 0}, frame: {duration: 0, redraw: false}};
    window.Plotly.animate(graph, {data, traces}, atOnce).catch(() => {});  // a later moment may overtake it
  },

  // a moment in words
  words(meta, heads) {
    const total = meta.total_s;
    const unit = total < 1 ? "ms" : "s";
    const write = (seconds) => (total < 1 ? (1000 * seconds).toFixed(0) : seconds.toFixed(total < 100 ? 3 : 1)).replace(".", meta.decimal);
    const done = heads.reduce((sum, one) => sum + one.end.filter((end) => end <= sheet.shown).length, 0);
    const all = heads.reduce((sum, one) => sum + one.end.length, 0);
    return `${write(sheet.shown)} of ${write(total)} ${unit}: ${done} of ${all} strokes marked`;
  },

  start(now) {
    const total = sheet.graph()?.layout?.meta?.total_s;
    if (total === undefined) return false;
    sheet.own.clear();
    sheet.run = {from: sheet.shown === null || sheet.shown >= total ? 0 : sheet.shown, began: now};
    return true;
  },

  stop() {
    if (sheet.run) window.dash_clientside.set_props("path-play", {children: "Play"});
    sheet.run = null;
  },

  // one step of playing, at the browser's own time in milliseconds
  tick(now) {
    const meta = sheet.graph()?.layout?.meta;
    if (!sheet.run) return;
    if (!meta) {
      sheet.stop();
      return;
    }
    sheet.show(sheet.run.from + Math.max(0, now - sheet.run.began) / 1000 / meta.slower);
    const value = meta.total_s ? 1000 * sheet.shown / meta.total_s : 1000;
    // both ends may also be where someone puts the slider
    if (value > 0 && value < 1000) sheet.own.add(value);
    if (value > 0) window.dash_clientside.set_props("path-time", {value});
    if (sheet.shown >= meta.total_s) sheet.stop();
    else window.requestAnimationFrame(sheet.tick);
  },
};

window.dash_clientside = window.dash_clientside || {};
window.dash_clientside.evenrun = {
  // keep the address in step with the state, one step of history per change; where the reader went himself, it stays
  remember(state) {
    const none = window.dash_clientside.no_update;
    if (!state) return [none, none, none, none, none];
    const link = state.link || "";
    if (!state.arrived && window.location.search !== link) {
      const own = window.dash_clientside.evenrun;
      own.written = window.location.pathname + link;
      window.history.pushState(null, "", own.written);
      // dcc.Location does not see pushState, and would take a way back to what it knows for no news
      window.dash_clientside.set_props("address", {search: link, href: window.location.href});
    }
    return [link, "/" + link, "/orders" + link, "/assumptions" + link, "/cases" + link];
  },

  // where the reader went: by a link, back, forward; an address that this page wrote is no news
  arrive(path, search) {
    const own = window.dash_clientside.evenrun;
    const here = (path || "/") + (search || "");
    if (own.written === here) return window.dash_clientside.no_update;
    own.written = here;
    return {path, search};
  },

  prefer(units, scheme) {
    const year = 31536000;
    const safe = window.location.protocol === "https:" ? "; Secure" : "";
    for (const [name, value] of [["evenrun_units", units], ["evenrun_scheme", scheme]]) {
      document.cookie = `${name}=${value}; Max-Age=${year}; Path=/; SameSite=Lax${safe}`;
    }
    return [{units, scheme}, scheme];
  },

  copyLink(clicks) {
    if (!clicks) return window.dash_clientside.no_update;
    return window.dash_clientside.evenrun.copy(window.location.href, "Link copied");
  },

  copyClientLink(clicks, link) {
    if (!clicks || !link) return window.dash_clientside.no_update;
    return window.dash_clientside.evenrun.copy(new URL(link, window.location.href).href, "Client link copied");
  },

  async copy(text, done) {
    try {
      await navigator.clipboard.writeText(text);
      return done;
    } catch (error) {
      return "This browser lets no page copy: take the link from the address bar";
    }
  },

  // what all fields show, as one message; a view laid out just now has its figures in place already
  gather(numbers, selects, switches, costing) {
    const context = window.dash_clientside.callback_context;
    if (context.triggered.length > numbers.length) return window.dash_clientside.no_update;
    const fields = {};
    for (const one of context.inputs_list.slice(0, 3).flat()) fields[one.id.name] = one.value ?? null;
    return {fields, costing};
  },

  // the server's message, each part to its place; what it does not name stays as it is
  spread(message) {
    const none = window.dash_clientside.no_update;
    return window.dash_clientside.callback_context.outputs_list.map(({id, property}) => {
      const said = (message || {})[`${id}.${property}`];
      return said === undefined ? none : said;
    });
  },

  // how sure an answer is follows it; other bars are asked for by the switch, and a view laid out anew has the first ones
  askSure(message, by, state) {
    const none = window.dash_clientside.no_update;
    const own = window.dash_clientside.evenrun;
    const answered = window.dash_clientside.callback_context.triggered.some((one) => one.prop_id === "answered.data");
    const wanted = by || "ends";
    const other = wanted !== (own.bars || "ends");
    own.bars = wanted;
    const of = answered ? (message || {})["state.data"] : other && state;
    own.asked = (own.asked || 0) + 1;  // the same state asked for again is news, too
    return of ? {state: of, by: wanted, number: own.asked} : none;
  },

  // the server's message on how sure an answer is, unless it is that of a state or of colours that are no longer shown
  complete(message, state) {
    const none = window.dash_clientside.no_update;
    const scheme = document.documentElement.getAttribute("data-mantine-color-scheme");
    const current = message && state && message.key === (state.link || "") && message.scheme === scheme;
    return window.dash_clientside.callback_context.outputs_list.map(({id, property}) => {
      const said = current ? message[`${id}.${property.split("@")[0]}`] : undefined;
      return said === undefined ? none : said;
    });
  },

  // a bar leads where the link of its name does
  findBar(clicked) {
    const point = clicked && clicked.points && clicked.points[0];
    const name = point && point.customdata && point.customdata[0];
    const links = [...document.querySelectorAll("#tornado-links a")];
    const link = name && links.find((one) => one.href.endsWith(`find=${encodeURIComponent(name)}`));
    if (link) link.click();
    return window.dash_clientside.no_update;
  },

  // the seconds of a sheet follow the answer, and its path follows while it is open
  askSeconds: (message) => (message || {})["state.data"] || window.dash_clientside.no_update,

  askPath: (opened, state) => ((opened || []).includes("path") && state) || window.dash_clientside.no_update,

  sheet,

  // the slider's moment, shown and in words; a new figure is that of the whole sheet
  moment(value, meta) {
    if (!meta) {
      sheet.stop();
      return "";
    }
    const triggered = window.dash_clientside.callback_context.triggered.map((one) => one.prop_id);
    if (triggered.includes("path-played.data")) {
      sheet.stop();
      sheet.shown = meta.total_s;
    } else if (!sheet.own.has(value)) {  // the slider repeats what it is told
      sheet.stop();
      sheet.show(meta.total_s * value / 1000);
    }
    const words = sheet.words(meta, meta.heads);
    document.querySelector("#path-time [role=slider]")?.setAttribute("aria-valuetext", words);
    return words;
  },

  // nothing moves unless it is asked to
  play(clicks) {
    if (!clicks) return window.dash_clientside.no_update;
    if (sheet.run) {
      sheet.stop();
      return "Play";
    }
    if (!sheet.start(performance.now())) return window.dash_clientside.no_update;
    window.requestAnimationFrame(sheet.tick);
    return "Pause";
  },

  // what is wrong with a field stands beside it
  showFaults(faults, ids) {
    return ids.map((id) => (faults || {})[id.name] || "");
  },

  // what the names of lines suggest, where nobody has said anything yet
  takeOffers(clicks, values, offers) {
    if (!clicks) return values.map(() => window.dash_clientside.no_update);
    return values.map((value, i) => value || (offers || [])[i] || null);
  },

  // a finding points at its places on the drawing, and a place at its finding
  pointAt(clicks, clicked) {
    const pressed = window.dash_clientside.callback_context.triggered_id;
    const graph = document.querySelector("#chart-drawing .js-plotly-plot");
    if (!pressed || !graph || !window.Plotly) return window.dash_clientside.no_update;
    const onPicture = pressed === "chart-drawing";
    const point = onPicture && clicked && clicked.points && clicked.points[0];
    const number = onPicture ? point && point.customdata && point.customdata[0] : pressed.number;
    const at = graph.data.findIndex((trace) => trace.name === "findings");
    if (!number || at < 0) return window.dash_clientside.no_update;
    const sizes = graph.data[at].customdata.map((one) => (one[0] === number ? 26 : 13));
    window.Plotly.restyle(graph, {"marker.size": [sizes]}, [at]);
    for (const button of document.querySelectorAll("button.finding")) {
      const own = button.textContent.startsWith(`${number}. `);
      button.classList.toggle("pointed", own);
      if (own && onPicture) button.focus();
    }
    if (!onPicture) graph.scrollIntoView({block: "nearest"});
    return number;
  },

  // the hours of the line have a slider and a field, which say the same; together with the rest they are one question
  askOrders(onSlider, typed, months, costing, most, before, file) {
    const none = window.dash_clientside.no_update;
    const triggered = window.dash_clientside.callback_context.triggered.map((one) => one.prop_id.split(".")[0]);
    const bySlider = triggered.length === 1 && triggered[0] === "book-hours";
    const hours = bySlider ? onSlider : typed;
    if (typeof hours !== "number" || !file) return [none, none, none];
    const now = {token: file.token, hours, months, costing};
    const slider = Math.min(hours, most);
    const same = before && Object.keys(now).every((key) => before[key] === now[key]);
    const asked = same && triggered.length === 1 ? none : {...now, count: ((before && before.count) || 0) + 1};
    return [slider === onSlider ? none : slider, hours === typed ? none : hours, asked];
  },

  toggle(clicks) {
    return clicks % 2 === 1;
  },

  // kept outside of the view, so that a view laid out anew leaves the drawer as it is
  unfold(clicks, now) {
    if (!clicks) return window.dash_clientside.no_update;
    return now === "unfolded" ? "" : "unfolded";
  },

  saveCase(clicks, name, cases, state) {
    const none = window.dash_clientside.no_update;
    if (!clicks || !state) return [none, none];
    const kept = Array.isArray(cases) ? cases : [];
    const label = (name || "").trim() || `Case ${kept.length + 1}`;
    const saved = {name: label.slice(0, 60), link: state.link || "", saved: new Date().toISOString().slice(0, 10)};
    return [[...kept.filter((c) => c.name !== saved.name), saved].slice(-30), `Saved as "${saved.name}"`];
  },

  // a picture of the chart whose button was pressed
  picture(clicks) {
    const none = window.dash_clientside.no_update;
    const pressed = window.dash_clientside.callback_context.triggered_id;
    if (!pressed || !clicks.some(Boolean)) return none;
    const graph = document.querySelector(`#chart-${pressed.chart} .js-plotly-plot`);
    if (graph && window.Plotly) {
      const size = {width: graph.offsetWidth, height: graph.offsetHeight, scale: 2};
      window.Plotly.downloadImage(graph, {format: pressed.format, filename: `evenrun-${pressed.chart}`, ...size});
    }
    return none;
  },
};
