// Asks the ES module every conformance pair in a worker of a headless Chromium
// and writes what it answers, one line a pair:
//   node browser.mjs MODULE ANSWERS PAIRS...
// The page is served on loopback with the content security policy that the
// module needs, and nothing may be asked from elsewhere.
import { createServer } from 'node:http';
import { readFileSync, writeFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { chromium } from 'playwright-core';

const [folder, answers, ...files] = process.argv.slice(2);
const pairs = files.flatMap((file) => JSON.parse(readFileSync(file, 'utf8')));

const types = { js: 'text/javascript', wasm: 'application/wasm' };
const server = createServer((request, response) => {
  const name = basename(new URL(request.url, 'http://localhost').pathname);
  response.setHeader('Content-Security-Policy', "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'");
  if (!name) {
    response.setHeader('Content-Type', 'text/html; charset=utf-8');
    response.end('<!DOCTYPE html><html lang="en"><title>Conformance</title>');
    return;
  }
  try {
    const content = readFileSync(join(folder, name));
    response.setHeader('Content-Type', types[name.split('.').pop()] ?? 'application/octet-stream');
    response.end(content);
  } catch {
    response.writeHead(404).end();
  }
});
await new Promise((resolve) => server.listen(0, '127.0.0.1', resolve));
const base = `http://127.0.0.1:${server.address().port}`;

const browser = await chromium.launch({
  executablePath: '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
});
const faults = [];
try {
  const page = await browser.newPage();
  page.on('pageerror', (e) => faults.push(e.message));
  page.on('console', (m) => m.type() === 'error' && !/favicon/.test(m.location().url) && faults.push(m.text()));
  page.on('request', (r) => r.url().startsWith(base) || faults.push(`asks ${r.url()}`));
  await page.goto(base);
  const { lines, ready, call } = await page.evaluate(async (pairs) => {
    const began = performance.now();
    const worker = new Worker('/worker.js', { type: 'module' });
    const waiting = new Map();
    worker.onmessage = ({ data }) => waiting.get(data.id)(data);
    let id = 0;
    const ask = ({ method, path, question }) => new Promise((resolve, reject) => {
      worker.onerror = (e) => reject(new Error(e.message || 'the worker did not load'));
      waiting.set(++id, resolve);
      worker.postMessage({ id, method, path, question: question && JSON.stringify(question) });
    });
    const point = { method: 'GET', path: '/v1/refrigerants/R-410A/saturation?pressure=118psig' };
    await ask(point);
    const ready = performance.now() - began;
    const all = await Promise.all(pairs.map(async (pair) => ({ name: pair.name, ...(await ask(pair)) })));
    const lines = all.map(({ name, status, answer }) => `{"name":${JSON.stringify(name)},"status":${status},"answer":${answer}}\n`);
    const calls = 500;
    const start = performance.now();
    for (let i = 0; i < calls; i++) await ask(point);
    return { lines, ready, call: (performance.now() - start) * 1000 / calls };
  }, pairs);
  writeFileSync(answers, lines.join(''));
  console.log(`Chromium ${browser.version()}: first answer of a new worker at ${ready.toFixed(0)} ms, saturation ${call.toFixed(0)} us there and back`);
} finally {
  await browser.close();
  server.close();
}
for (const fault of faults) console.error(fault);
process.exitCode = faults.length ? 1 : 0;
