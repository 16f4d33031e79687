// Prints what two linters find in a Dockerfile, and fails where that is
// anything: dockerfile.mjs FILE.
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'

const require = createRequire(process.cwd() + '/')
const { validate } = require('dockerfile-utils')
const { run } = require('dockerfilelint/lib')

const content = readFileSync(process.argv[2], 'utf8')
const findings = [
  ...validate(content).map((d) => `line ${d.range.start.line + 1}: ${d.message}`),
  ...run(process.cwd(), content).map((d) => `line ${d.line}: ${d.title}: ${d.description}`),
]
for (const f of findings) console.error(f)
process.exit(findings.length > 0 ? 1 : 0)
