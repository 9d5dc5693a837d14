"use strict";
// The page that is served: what is pressed turns it, and nothing else but a key, a pedal, a finger
// or a choice from the list does.
(() => {
  const by = (id) => document.getElementById(id);
  const songs = [...document.querySelectorAll("main article")];
  if (songs.length === 0) return;
  const footer = document.querySelector("footer");
  // What can be pressed, in the order of the page: the moments, then the other scenes.
  const lines = new Map(songs.map((song) => [
    song.id, [...song.querySelectorAll(".presses li")].filter((one) => one.querySelector(".scene")),
  ]));
  const shown = () => songs.find((song) => !song.hidden).id;
  let turned = shown();

  let over = false;
  const tell = (what) => {
    if (over) return;
    fetch("turned", { method: "POST", body: what }).catch(() => { /* the words below say it */ });
  };

  // Whoever turns the page by hand sets where the night is.
  const watching = new MutationObserver(() => {
    if (shown() === turned) return;
    turned = shown();
    spare();
    tell(turned);
  });
  watching.observe(document.querySelector("main"), { subtree: true, attributeFilter: ["hidden"] });

  // So does who says that the night is at this line.
  lines.forEach((rows, id) => rows.forEach((row, number) => {
    const scene = row.querySelector(".scene");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "here";
    button.title = "we are here";
    scene.replaceWith(button);
    button.append(scene);
    button.addEventListener("click", () => {
      button.blur(); // a pedal's Enter must not press it again
      tell(id + " " + number);
    });
  }));

  const turn = (id) => {
    by("list").open = false;
    turned = id;
    if (shown() === id) return;
    history.replaceState(null, "", "#" + id);
    window.dispatchEvent(new HashChangeEvent("hashchange"));
  };

  let tall = footer.offsetHeight;
  const bring = (row) => {
    tall = footer.offsetHeight;
    const room = window.innerHeight - tall;
    const box = row.getBoundingClientRect();
    if (box.top < 8 || box.bottom > room - 8) window.scrollBy(0, box.top - room * 0.3);
  };

  const row = (spot) => spot === null ? undefined : lines.get(spot[0])[spot[1]];
  const marked = (name, spot) => {
    document.querySelectorAll("." + name).forEach((one) => {
      one.classList.remove(name);
      one.removeAttribute("aria-current");
    });
    const to = row(spot);
    if (to === undefined) return;
    to.classList.add(name);
    if (name === "sounds") to.setAttribute("aria-current", "step");
  };

  const put = (id, text) => { if (by(id).textContent !== text) by(id).textContent = text; };

  // What the page shows already is not shown a second time, but still told to a screen reader.
  let last = null;
  const spare = () => {
    if (last === null) return;
    by("now").classList.toggle("unseen", last.sounds !== null && last.sounds[0] === shown());
    by("following").hidden = last.onward && last.song === shown();
  };

  // Pages move for a press that they have not shown yet; to begin with, to where the night is.
  let presses = null;
  const follow = (news) => {
    marked("stood", news.stood);
    marked("sounds", news.sounds);
    put("now", news.now);
    put("then", news.then);
    last = news;
    if (presses === null ? news.begun : news.presses !== presses) {
      turn(news.song);
      spare();
      const to = row(news.sounds) || row(news.stood);
      if (to !== undefined) bring(to);
    } else if (presses === null && shown() !== news.song) {
      tell(shown()); // an address may name another song to begin with
    }
    spare();
    presses = news.presses;
  };

  let midi = { gone: false, words: "" };
  let server = { gone: false, words: "" };
  const said = () => {
    put("link", server.gone ? server.words : (server.words + " " + midi.words).trim());
    by("link").classList.toggle("gone", server.gone || midi.gone);
  };
  const present = (words) => { server = { gone: false, words }; said(); };
  const absent = (words) => { server = { gone: true, words }; said(); };

  const LOST = "Setwright does not answer: turn by hand. The page tries on.";
  const OVER = "Setwright has ended: turn by hand. Started again, it has a new address.";
  const BACK = "Setwright is back.";
  let source = null;
  let late = null;
  const here = () => {
    clearTimeout(late);
    late = setTimeout(() => absent(LOST), 4000);
    if (server.gone) present(BACK);
  };
  const connect = () => {
    source = new EventSource("news");
    source.addEventListener("open", here);
    source.addEventListener("here", here);
    source.addEventListener("message", (event) => {
      const news = JSON.parse(event.data);
      here();
      midi = news.midi;
      said();
      follow(news);
    });
    source.addEventListener("over", () => {
      over = true;
      source.close();
      clearTimeout(late);
      absent(OVER);
    });
    source.addEventListener("error", () => {
      if (over) return;
      clearTimeout(late);
      absent(LOST);
      // Some browsers give up where nobody is there; we do not.
      if (source.readyState === EventSource.CLOSED) setTimeout(connect, 1000);
    });
  };
  connect();

  document.body.classList.add("following");
  new ResizeObserver(() => {
    const before = window.innerHeight - tall;
    tall = footer.offsetHeight;
    document.body.style.setProperty("--foot", tall + "px");
    // A footer that grows must not cover the line that sounds.
    const here = document.querySelector("article:not([hidden]) .sounds");
    if (here !== null && here.getBoundingClientRect().bottom < before) bring(here);
  }).observe(footer);
})();
