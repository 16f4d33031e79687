// The engine in browsers, workers and node: the operations of the OpenAPI
// document, answered without a network.
import './wasm_exec.js'; // of the Go that compiled knurl.wasm; defines globalThis.Go

// A question that is not answered: problem is what the service would send (RFC 9457).
export class KnurlProblem extends Error {
  constructor(problem) {
    super(problem.detail || problem.title);
    this.name = 'KnurlProblem';
    this.problem = problem;
  }
}

// Compiles and starts an engine. source is knurl.wasm: by default the one
// beside this file, else a URL, a Response, its bytes or a WebAssembly.Module.
export async function load(source = new URL('./knurl.wasm', import.meta.url)) {
  const go = new globalThis.Go();
  const instance = await instantiate(source, go.importObject);
  let engine;
  globalThis.knurlStarted = (ask, engineRevision, dataRevision) => { engine = new Engine(ask, engineRevision, dataRevision); };
  try {
    // Runs until it waits for questions, so that no other start comes between.
    // It ends only where memory does; whoever asks then is told by an error.
    go.run(instance);
  } finally {
    delete globalThis.knurlStarted;
  }
  if (!engine) throw new Error('the engine did not start');
  return engine;
}

class Engine {
  #ask;

  constructor(ask, engineRevision, dataRevision) {
    this.#ask = ask;
    this.engineRevision = engineRevision;
    this.dataRevision = dataRevision;
  }

  // Any request as the wire has it: the question and the answer are JSON texts.
  ask(method, path, question = '') {
    return this.#ask(String(method), String(path), String(question));
  }

  get(path, { path: parameters = {}, query = {} } = {}) {
    return this.#answer('GET', address(path, parameters, query));
  }

  post(path, question, { query = {} } = {}) {
    return this.#answer('POST', address(path, {}, query), JSON.stringify(question));
  }

  #answer(method, target, question) {
    const { status, answer } = this.ask(method, target, question);
    const said = JSON.parse(answer);
    if (status !== 200) throw new KnurlProblem(said);
    return said;
  }
}

function address(path, parameters, query) {
  const filled = path.replace(/\{(\w+)\}/g, (_, name) => encodeURIComponent(parameters[name] ?? ''));
  const given = Object.entries(query).filter(([, value]) => value !== undefined);
  return given.length ? `${filled}?${new URLSearchParams(given)}` : filled;
}

async function instantiate(source, imports) {
  if (source instanceof WebAssembly.Module) return WebAssembly.instantiate(source, imports);
  if (typeof source === 'string' || source instanceof URL) {
    const url = new URL(source, globalThis.location?.href);
    if (url.protocol === 'file:') {
      const { readFile } = await import('node:fs/promises');
      source = await readFile(url);
    } else {
      source = await fetch(url);
    }
  }
  if (source instanceof Response) {
    if (!source.ok) throw new Error(`knurl.wasm: ${source.status} ${source.url}`);
    source = await source.arrayBuffer();
  }
  return (await WebAssembly.instantiate(source, imports)).instance;
}
