// News from the server. One open page listens for all (a browser keeps few lines to one server) and
// passes the news on; when it is closed another takes over.

const KINDS = ["hello", "changes", "job", "trouble", "switched"];
const handlers = new Map(KINDS.map((kind) => [kind, []]));
const channel = new BroadcastChannel("camsign-news");

/** Calls `handler` with each piece of news of a kind: hello, changes, job, trouble, switched, or lost. */
export function onNews(kind, handler) {
  if (!handlers.has(kind)) handlers.set(kind, []);
  handlers.get(kind).push(handler);
}

function spread(kind, news) {
  for (const handler of handlers.get(kind) ?? []) handler(news);
}

channel.onmessage = (message) => spread(message.data.kind, message.data.news);

function tell(kind, news) {
  spread(kind, news);
  channel.postMessage({ kind, news });
}

function listen() {
  const source = new EventSource("/events");
  for (const kind of KINDS) {
    source.addEventListener(kind, (event) => tell(kind, JSON.parse(event.data)));
  }
  source.addEventListener("error", () => tell("lost", {}));
  return new Promise(() => {});
}

navigator.locks.request("camsign-news", listen);
