"use strict";
// Draws each picture again so that it moves; where that fails, or where there is too little room, the still one stays.
(function () {
  const narrowest = 690;
  for (const chart of document.querySelectorAll("figure.chart")) {
    const still = chart.querySelector(".still");
    const live = chart.querySelector(".live");
    if (chart.clientWidth < narrowest) continue;
    const spec = JSON.parse(chart.querySelector("script[type='application/json']").textContent);
    live.hidden = false;
    window
      .vegaEmbed(live, spec, { actions: false, renderer: "svg", ast: true, tooltip: { theme: "custom" } })
      .then(function () {
        live.firstElementChild.setAttribute("aria-hidden", "true");
        still.style.display = "none";
        const moves = JSON.stringify(spec).includes('"bind":"scales"');
        if (moves) chart.querySelector(".hint").hidden = false;
      })
      .catch(function () {
        live.hidden = true;
      });
  }
})();
