// The link to the server: it says what the data are worth, several times a second, whether or not any come.
const late = 2000; // ms without a sign of life; the server gives one a second
const again = 6000; // ms after which a link that is open and silent is made anew

export function listen(address, show, update) {
  let heard = performance.now();
  let opened = heard;
  let last = { state: document.documentElement.dataset.state, age: 0 };
  let source;

  function take(event) {
    const data = JSON.parse(event.data);
    heard = performance.now();
    last = { state: data.state, age: data.age };
    tell();
    update(data);
  }

  function open() {
    source?.close();
    opened = performance.now();
    source = new EventSource(address);
    source.addEventListener("page", take);
    source.addEventListener("beat", take);
  }

  function tell() {
    const silent = performance.now() - heard;
    show(silent > late ? "lost" : last.state, silent > late ? silent / 1000 : last.age + silent / 1000);
  }

  setInterval(() => {
    tell();
    const now = performance.now();
    const dead = source.readyState === EventSource.CLOSED ? 1000 : again;
    if (now - Math.max(heard, opened) > dead) open();
  }, 250);
  addEventListener("pageshow", (event) => {
    if (event.persisted) open();
  });
  open();
}
