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
