// A worker that answers, so that the thread that draws does not wait:
//   const worker = new Worker(new URL('./worker.js', …), { type: 'module' });
//   worker.postMessage({ id: 1, method: 'POST', path: '/v1/diagnosis', question: JSON.stringify(…) });
//   worker.onmessage = ({ data: { id, status, answer } }) => …
// To give a question up, terminate the worker.
import { load } from './knurl.js';

const started = load();
started.catch((e) => setTimeout(() => { throw e; })); // so that the worker's onerror hears of it

self.onmessage = async ({ data: { id, method, path, question } }) => {
  const engine = await started;
  self.postMessage({ id, ...engine.ask(method, path, question) });
};
