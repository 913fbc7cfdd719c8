// Asking this page's own server. What it refuses comes back as one line: what, and what to do.

export class Refused extends Error {
  constructor(what, remedy, status) {
    super(remedy ? `${what}; ${remedy}` : what);
    this.what = what;
    this.remedy = remedy;
    this.status = status;
  }
}

export function get(address, values = {}) {
  const query = new URLSearchParams();
  for (const [name, value] of Object.entries(values)) {
    for (const one of Array.isArray(value) ? value : [value]) {
      if (one !== "" && one !== null && one !== undefined) query.append(name, one);
    }
  }
  const text = query.toString();
  return ask(text ? `${address}?${text}` : address);
}

/** Sends a file's bytes; its name goes into the address. */
export function upload(address, file) {
  return ask(`${address}?name=${encodeURIComponent(file.name)}`, file, "application/octet-stream");
}

/** Asks; with a `body`, an object or what `type` says, sends that. */
export async function ask(address, body = null, type = "application/json") {
  const accept = { accept: "application/json" };
  const how = { method: "POST", headers: { ...accept, "content-type": type }, body: body instanceof Blob ? body : JSON.stringify(body) };
  let answer;
  try {
    answer = await fetch(address, body ? how : { headers: accept });
  } catch {
    throw new Refused("camsign does not answer", "start it again; what was marked as saved is safe", 0);
  }
  const value = await answer.json().catch(() => ({}));
  if (answer.status === 403 && !value.what) {
    throw new Refused("camsign was started again and this page is an old one", "open the address that camsign printed; what was marked as saved is safe", 403);
  }
  if (!answer.ok) {
    throw new Refused(value.what ?? "camsign refused that", value.remedy ?? "load the page again", answer.status);
  }
  return value;
}

/** Says why a picture is not shown: camsign is gone, or the picture is. */
export async function whyLost(address) {
  try {
    await fetch(address, { method: "HEAD" });
  } catch {
    return "camsign is not running. Start it again and open the address it prints.";
  }
  return "This picture is not on this machine, or damaged.";
}
