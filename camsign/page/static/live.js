// News from the server. One open page listens for all (a browser keeps few lines to one server) and
// passes the news on, to itself too; when it is closed another takes over.

const KINDS = ["hello", "changes", "job", "trouble", "switched"];
const handlers = new Map(KINDS.map((kind) => [kind, []]));
const NEWS = "camsign-news";
const heard = new BroadcastChannel(NEWS);
const told = new BroadcastChannel(NEWS); // a channel does not hear itself

/** Calls `handler` with each piece of news of a kind: hello, changes, job, trouble, switched, or lost. */
export function onNews(kind, handler) {
  if (!handlers.has(kind)) handlers.set(kind, []);
  handlers.get(kind).push(handler);
}

heard.onmessage = ({ data }) => {
  for (const handler of handlers.get(data.kind) ?? []) handler(data.news);
};

function listen() {
  const source = new EventSource("/events");
  for (const kind of KINDS) {
    source.addEventListener(kind, (event) => told.postMessage({ kind, news: JSON.parse(event.data) }));
  }
  source.addEventListener("error", () => told.postMessage({ kind: "lost", news: {} }));
  return new Promise(() => {});
}

navigator.locks.request(NEWS, listen);
