"use strict";
// Nothing here turns by itself: only a key, a pedal, a finger or a choice from the list does.
(() => {
  const songs = [...document.querySelectorAll("main article")];
  if (songs.length === 0) return;
  const by = (id) => document.getElementById(id);
  const list = by("list");
  let at = 0;

  const title = (song) => song.dataset.title;

  const show = (to, focus) => {
    at = Math.max(0, Math.min(songs.length - 1, to));
    songs.forEach((song, number) => { song.hidden = number !== at; });
    const following = songs[at + 1];
    by("following").textContent = following ? "next: " + following.dataset.next : "the last one";
    by("said").textContent = title(songs[at]) + (following ? "; next " + title(following) : "");
    by("back").disabled = at === 0;
    by("on").disabled = !following;
    list.open = false;
    songs[at].scrollIntoView({ block: "start" });
    if (focus) songs[at].focus({ preventScroll: true });
    try { history.replaceState(null, "", "#" + songs[at].id); } catch { /* not allowed here */ }
  };

  // What does not fit is read first, then the page is turned.
  const room = () => window.innerHeight - document.querySelector("footer").offsetHeight;
  const on = () => {
    const below = songs[at].querySelector(".presses").getBoundingClientRect().bottom - room();
    if (below > 4) window.scrollBy(0, Math.min(below + 8, room() * 0.85));
    else if (at < songs.length - 1) show(at + 1);
  };
  const back = () => {
    const above = songs[at].getBoundingClientRect().top;
    if (above < -16) window.scrollBy(0, Math.max(above - 8, -room() * 0.85));
    else if (at > 0) show(at - 1);
  };

  const ON = ["PageDown", "ArrowRight", "ArrowDown", " ", "Enter"];
  const BACK = ["PageUp", "ArrowLeft", "ArrowUp", "Backspace"];
  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const goes = ON.includes(event.key) && !event.shiftKey ? on
      : BACK.includes(event.key) || (event.key === " " && event.shiftKey) ? back : null;
    const press = event.key === " " || event.key === "Enter";
    if (goes === null || (press && event.target.closest("button, summary, a, input"))) return;
    event.preventDefault();
    if (!event.repeat) goes();
  });

  let touch = null;
  document.addEventListener("touchstart", (event) => {
    touch = event.touches.length === 1 ? event.touches[0] : null;
  }, { passive: true });
  document.addEventListener("touchend", (event) => {
    if (touch === null) return;
    const end = event.changedTouches[0];
    const [x, y] = [end.clientX - touch.clientX, end.clientY - touch.clientY];
    touch = null;
    if (Math.abs(x) < 60 || Math.abs(x) < 2 * Math.abs(y)) return;
    if (x < 0 && at < songs.length - 1) show(at + 1);
    if (x > 0 && at > 0) show(at - 1);
  }, { passive: true });

  // A pedal sends Enter: it must not press again what a finger pressed last.
  const pressed = (id, does) => by(id).addEventListener("click", (event) => {
    does();
    event.currentTarget.blur();
  });
  pressed("on", () => { if (at < songs.length - 1) show(at + 1); });
  pressed("back", () => { if (at > 0) show(at - 1); });
  pressed("choose", () => {
    list.open = true;
    list.scrollIntoView({ block: "start" });
    list.querySelector("a").focus({ preventScroll: true });
  });
  list.addEventListener("click", (event) => {
    const link = event.target.closest("a");
    if (link === null) return;
    event.preventDefault();
    show(songs.findIndex((song) => "#" + song.id === link.getAttribute("href")), true);
  });

  // The time since somebody said that the set begins.
  let began = null;
  const told = () => {
    if (began === null) return;
    const seconds = Math.floor((performance.now() - began) / 1000);
    by("clock").textContent = Math.floor(seconds / 60) + ":" + String(seconds % 60).padStart(2, "0");
  };
  pressed("clock", () => {
    began = began === null ? performance.now() : null;
    by("clock").textContent = "the set begins";
    told();
  });
  setInterval(told, 1000);

  let lock = null;
  const stay = async () => {
    if (document.visibilityState !== "visible" || lock !== null) return;
    try {
      lock = await navigator.wakeLock.request("screen");
      lock.addEventListener("release", () => { lock = null; });
      by("awake").textContent = "the screen stays on";
    } catch {
      by("awake").textContent = "the screen may go dark: set this device to leave it on";
    }
  };
  document.addEventListener("visibilitychange", stay);
  document.addEventListener("pointerdown", stay);
  document.addEventListener("keydown", stay);
  stay();

  document.body.classList.add("turning");
  const asked = songs.findIndex((song) => "#" + song.id === location.hash);
  show(asked < 0 ? 0 : asked);
  window.addEventListener("hashchange", () => {
    const to = songs.findIndex((song) => "#" + song.id === location.hash);
    if (to >= 0 && to !== at) show(to);
  });
})();
