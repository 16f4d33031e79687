// Asks the engine of the ES module every conformance pair under node and writes
// what it answers, one line a pair, for the Go test that judges them:
//   node conform.js ANSWERS PAIRS...
// Then uses it as TypeScript does, and says how long things take.
import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { KnurlProblem, load } from 'knurl';

interface Pair { name: string; method: string; path: string; question?: unknown }

const [answers, ...files] = process.argv.slice(2) as [string, ...string[]];
const pairs = files.flatMap((file) => JSON.parse(readFileSync(file, 'utf8')) as Pair[]);

const began = performance.now();
const engine = await load();
const started = performance.now() - began;
const first = engine.get('/v1/refrigerants/{designation}/saturation', { path: { designation: 'R-410A' }, query: { pressure: '118psig', units: 'si' } });
const ready = performance.now() - began;

const json = (question: unknown) => (question === undefined ? undefined : JSON.stringify(question));
writeFileSync(answers, pairs.map(({ name, method, path, question }) => {
  const { status, answer } = engine.ask(method, path, json(question));
  return `{"name":${JSON.stringify(name)},"status":${status},"answer":${answer}}\n`;
}).join(''));

// The types are those of the document.
const unit: string | undefined = first.dew_temperature?.unit;
assert.equal(unit, 'degC');
assert.equal(first.provenance.engine_revision, engine.engineRevision);
assert.equal(first.provenance.data_revision, engine.dataRevision);
const refrigerants: number = engine.get('/v1/refrigerants').refrigerants.length;
assert.ok(refrigerants > 100);
const { dew_point } = engine.post('/v1/moist-air', { dry_bulb: { value: 70, unit: 'degF' }, wet_bulb: { value: 60, unit: 'degF' } }, { query: { explain: true } });
assert.ok(dew_point && dew_point.value < 60);
assert.throws(() => engine.get('/v1/refrigerants/{designation}', { path: { designation: 'no/such' } }), (e) => e instanceof KnurlProblem && e.problem.status === 404);
assert.throws(() => engine.post('/v1/moist-air', { dry_bulb: { value: 70, unit: 'degF' }, wet_bulb: { value: 80, unit: 'degF' } }), (e) => e instanceof KnurlProblem && e.problem.errors?.[0]?.code === 'out_of_range');
// @ts-expect-error: no such operation
assert.throws(() => engine.post('/v1/refrigerants', {}), KnurlProblem);
// @ts-expect-error: the designation is missing
assert.throws(() => engine.get('/v1/refrigerants/{designation}'), KnurlProblem);
// @ts-expect-error: a quantity has a unit
assert.throws(() => engine.post('/v1/moist-air', { dry_bulb: { value: 70 } }), KnurlProblem);

// Two engines do not get in each other's way.
const [second, third] = await Promise.all([load(), load()]);
const asked = ['GET', '/v1/refrigerants/R-32'] as const;
assert.deepEqual(second.ask(...asked), third.ask(...asked));

function time(calls: number, method: string, path: string, question?: string): string {
  for (let i = 0; i < calls; i++) engine.ask(method, path, question);
  const start = performance.now();
  for (let i = 0; i < calls; i++) engine.ask(method, path, question);
  return `${((performance.now() - start) * 1000 / calls).toFixed(0)} us`;
}
const diagnosis = pairs.find((p) => p.name === 'museum-second-visit')!;
console.log(`node ${process.version}: start ${started.toFixed(0)} ms, first answer at ${ready.toFixed(0)} ms, saturation ${time(1000, 'GET', '/v1/refrigerants/R-410A/saturation?pressure=118psig')}, diagnosis ${time(200, 'POST', diagnosis.path, json(diagnosis.question))} a call`);
