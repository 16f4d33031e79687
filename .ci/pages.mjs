// Looks at the pages of a running knurld with a real browser: accessible by
// axe, nothing loaded from elsewhere, nothing that the content security policy
// had to stop, no sideways scrolling on a phone, the record on one sheet, and
// each form of the contract's page answered. Pictures go to a folder.
//
//   node .ci/pages.mjs http://127.0.0.1:8080 FOLDER-WITH-node_modules DEMO PICTURES
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join, resolve } from 'node:path';

const [base, modules, demo, pictures] = process.argv.slice(2);
const require = createRequire(join(resolve(modules), 'x.js'));
const { chromium } = require('playwright-core');
const axe = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

const faults = [];
const browser = await chromium.launch({
  executablePath: '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
});

// What is asked for by POST, or is no page by itself, is shown at a path of
// its own with the headers that the service sent.
async function answer(path, body, accept) {
  const headers = { Accept: accept, ...(body && { 'Content-Type': 'application/json' }) };
  const response = await fetch(base + path, { method: body ? 'POST' : 'GET', headers, body });
  if (!response.ok) throw new Error(`${path}: ${response.status} ${await response.text()}`);
  return { status: 200, headers: Object.fromEntries(response.headers), body: await response.text() };
}

const visit = readFileSync(join(demo, 'museum-visit-record.json'), 'utf8');
const circuit = readFileSync(join(demo, 'museum-diagram.json'), 'utf8');
const record = await answer('/v1/visit-record', visit, 'text/html');
const frame = (svg) => ({ status: 200, headers: { 'Content-Type': 'text/html; charset=utf-8' }, body: `<!DOCTYPE html><html lang="en"><title>Diagram</title><body style="margin:0"><main><h1 style="position:absolute;left:-99rem">Diagram</h1>${svg.body}</main>` });
const shown = {
  docs: null,
  record,
  'diagram-circuit': frame(await answer('/v1/pressure-enthalpy-diagram', circuit, 'image/svg+xml')),
  'diagram-si': frame(await answer('/v1/refrigerants/R-407C/pressure-enthalpy-diagram?units=si', null, 'image/svg+xml')),
};

async function look(name, width, colorScheme, bypassCSP, use) {
  const context = await browser.newContext({ viewport: { width, height: 900 }, colorScheme, bypassCSP });
  const page = await context.newPage();
  const where = `${name} at ${width} px, ${colorScheme}`;
  page.on('pageerror', (e) => faults.push(`${where}: ${e.message}`));
  // A refused question is logged by the browser, and none of the page's faults.
  page.on('console', (m) => m.type() === 'error' && !/the server responded with a status of 4/.test(m.text()) && faults.push(`${where}: ${m.text()}`));
  page.on('request', (r) => !r.url().startsWith(base) && !r.url().startsWith('blob:') && faults.push(`${where}: asks ${r.url()}`));
  await page.route('**/favicon.ico', (route) => route.fulfill({ status: 204 }));
  if (shown[name]) await page.route(`**/${name}`, (route) => route.fulfill(shown[name]));
  await page.goto(`${base}/${name}`);
  await use(page, where);
  await context.close();
}

for (const name of Object.keys(shown)) {
  for (const width of [390, 1280]) {
    for (const scheme of ['light', 'dark']) {
      await look(name, width, scheme, false, async (page, where) => {
        const over = await page.evaluate(() => document.scrollingElement.scrollWidth - window.innerWidth);
        if (over > 0) faults.push(`${where}: ${over} px wider than the screen`);
        await page.screenshot({ path: join(pictures, `${name}-${width}-${scheme}.png`), fullPage: name !== 'docs' });
      });
      await look(name, width, scheme, true, async (page, where) => {
        await page.evaluate(() => document.querySelectorAll('details').forEach((d) => { d.open = true; }));
        await page.evaluate(axe);
        const found = await page.evaluate(() => window.axe.run());
        for (const v of found.violations) faults.push(`${where}: ${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160)).join(' | ')}`);
        console.log(`${where}: ${found.passes.length} rules of axe passed, ${found.violations.length} violated, ${found.incomplete.length} to be judged by eye`);
      });
    }
  }
}

await look('record', 800, 'dark', false, async (page) => {
  for (const format of ['A4', 'Letter']) {
    const pdf = await page.pdf({ format, path: join(pictures, `record-${format}.pdf`) });
    const sheets = pdf.toString('latin1').match(/\/Type\s*\/Page\b(?!s)/g)?.length ?? 0;
    if (sheets !== 1) faults.push(`the record takes ${sheets} sheets of ${format}`);
  }
});

// By keyboard: the first stop leads to the operations; every form is answered.
await look('docs', 1280, 'light', false, async (page) => {
  await page.keyboard.press('Tab');
  if (await page.evaluate(() => document.activeElement.className) !== 'skip') faults.push('docs: the first stop is not the way to the operations');
  const forms = await page.locator('form.try').count();
  if (forms < 10) faults.push(`docs: only ${forms} forms`);
  for (let i = 0; i < forms; i++) {
    const form = page.locator('form.try').nth(i);
    const name = `${await form.getAttribute('data-method')} ${await form.getAttribute('data-path')}`;
    await form.locator('summary').focus();
    await page.keyboard.press('Enter');
    for (const field of await form.locator('input[data-in=path]').all()) if (!(await field.inputValue())) await field.fill('R-410A');
    await form.locator('button').press('Enter');
    const status = form.locator('.status');
    await page.waitForFunction((e) => /^\d/.test(e.textContent) || /^No answer/.test(e.textContent), await status.elementHandle());
    const text = await status.textContent();
    // Questions without an example, and saturation without a point, are refused with a reason.
    if (!/^(200|400|404|422) /.test(text)) faults.push(`docs: ${name}: ${text}`);
    if (name.startsWith('POST') && !text.startsWith('200')) console.log(`docs: ${name}: ${text}`);
  }
  const drawn = page.locator('form[data-path="/v1/pressure-enthalpy-diagram"]');
  await drawn.locator('select.media').selectOption('image/svg+xml');
  await drawn.locator('button').click();
  await drawn.locator('img').waitFor({ state: 'visible' });
  await page.waitForFunction((e) => e.complete && e.naturalWidth > 0, await drawn.locator('img').elementHandle());
  await drawn.scrollIntoViewIfNeeded();
  await page.screenshot({ path: join(pictures, 'docs-tried.png') });
}).catch((e) => faults.push(`docs: ${e.message}`));

await browser.close();
for (const f of faults) console.error(f);
process.exit(faults.length ? 1 : 0);
