// Checks what no schema says of manifests that belong together: selectors
// select pods, names that are referred to exist, ports are those of the pods,
// and every container is confined. manifests.mjs FILE
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'

const { parseAllDocuments } = createRequire(process.cwd() + '/')('yaml')

const all = parseAllDocuments(readFileSync(process.argv[2], 'utf8')).map((d) => d.toJS())
const findings = []
const of = (kind) => all.filter((m) => m.kind === kind)
const pods = of('Deployment').map((d) => ({ name: d.metadata.name, ...d.spec.template }))

function selected(m, selector) {
  const wanted = Object.entries(selector ?? {})
  const found = pods.filter((p) => wanted.every(([k, v]) => p.metadata.labels[k] === v))
  if (wanted.length === 0 || found.length !== 1) findings.push(`${m.kind} ${m.metadata.name} selects ${found.length} deployments by ${JSON.stringify(selector)}`)
  return found
}

function exists(by, kind, name) {
  if (!of(kind).some((m) => m.metadata.name === name)) findings.push(`${by} refers to ${kind} ${name}, which is not there`)
}

const ports = (found) => found.flatMap((p) => p.spec.containers).flatMap((c) => c.ports).flatMap((p) => [p.name, p.containerPort])
function port(m, found, wanted) {
  if (!ports(found).includes(wanted)) findings.push(`${m.kind} ${m.metadata.name} names port ${wanted}, of ${ports(found)}`)
}

for (const m of of('Service')) {
  const found = selected(m, m.spec.selector)
  for (const p of m.spec.ports) port(m, found, p.targetPort)
}
for (const m of of('PodDisruptionBudget')) selected(m, m.spec.selector?.matchLabels)
for (const m of of('NetworkPolicy')) {
  const found = selected(m, m.spec.podSelector?.matchLabels)
  for (const p of (m.spec.ingress ?? []).flatMap((r) => r.ports ?? [])) port(m, found, p.port)
}
for (const m of of('HorizontalPodAutoscaler')) exists(`autoscaler ${m.metadata.name}`, 'Deployment', m.spec.scaleTargetRef.name)
for (const m of of('Deployment')) selected(m, m.spec.selector.matchLabels)
for (const p of pods) {
  if (!p.spec.securityContext?.runAsNonRoot || p.spec.securityContext.seccompProfile?.type !== 'RuntimeDefault' || p.spec.automountServiceAccountToken !== false)
    findings.push(`pods of ${p.name} are not confined`)
  for (const v of p.spec.volumes ?? []) if (v.secret) exists(`volume ${v.name}`, 'Secret', v.secret.secretName)
  for (const c of p.spec.containers) {
    const s = c.securityContext ?? {}
    if (s.allowPrivilegeEscalation !== false || !s.readOnlyRootFilesystem || s.capabilities?.drop?.[0] !== 'ALL') findings.push(`container ${c.name} is not confined`)
    if (!c.readinessProbe || !c.livenessProbe) findings.push(`container ${c.name} lacks a probe`)
    if (!c.resources?.requests?.cpu || !c.resources?.limits?.memory) findings.push(`container ${c.name} lacks bounds`)
    for (const e of c.envFrom ?? []) {
      if (e.configMapRef) exists(`container ${c.name}`, 'ConfigMap', e.configMapRef.name)
      if (e.secretRef) exists(`container ${c.name}`, 'Secret', e.secretRef.name)
    }
    for (const p of [c.startupProbe, c.readinessProbe, c.livenessProbe]) {
      const at = (p?.httpGet ?? p?.tcpSocket)?.port
      if (at) port({ kind: 'probe of', metadata: c }, [{ spec: { containers: [c] } }], at)
    }
  }
}
for (const f of findings) console.error(f)
console.log(`${all.length} manifests, ${pods.length} deployments, ${findings.length} findings`)
process.exit(findings.length > 0 || pods.length === 0 ? 1 : 0)
