// Sends births and results with fhir-kit-client, reads them back, and validates every answer with the fhir package. One Bundle is built by
// a library of another maker, @i4mi/fhir_r4, with its entries, requests and codes.
// Usage: node exchange.mjs BASE_URL SITE_KEY   Prints one line a step.
import { Client, CapabilityTool } from 'fhir-kit-client';
import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);
const { Fhir } = require('fhir');
const { I4MIBundle, BundleType, BundleHTTPVerb, ObservationStatus, PatientAdministrativeGender, isUUID } = require('@i4mi/fhir_r4');
const [baseUrl, key] = process.argv.slice(2);
const client = new Client({ baseUrl, bearerToken: key });
const validator = new Fhir();

function say(step, resource, ...more) {
  const { messages } = validator.validate(resource, { errorOnUnexpected: true });
  const errors = messages.filter((m) => m.severity === 'error' || m.severity === 'fatal').map((m) => `${m.location} ${m.message}`);
  console.log([step, resource.resourceType, errors.length === 0 ? 'valid' : errors.join('; '), ...more].join(' | '));
}

const coding = (system, code) => ({ coding: [{ system, code }] });
const loinc = (code) => coding('http://loinc.org', code);
const patient = (number) => ({
  resourceType: 'Patient', gender: 'male', birthDate: '2026-11-20',
  identifier: [{ type: coding('http://terminology.hl7.org/CodeSystem/v2-0203', 'MR'), system: 'urn:x-kit', value: number }],
});
const result = (subject, code, answer, at) => ({
  resourceType: 'Observation', status: 'final', code: loinc(code), subject, effectiveDateTime: at,
  valueCodeableConcept: loinc(answer), method: loinc('LA10391-3'),
});
const post = (resource, fullUrl) => ({ fullUrl, resource, request: { method: 'POST', url: resource.resourceType } });

const statement = await client.capabilityStatement();
const capabilities = new CapabilityTool(statement);
say('metadata', statement, capabilities.serverCan('transaction'), capabilities.resourceCan('Patient', 'create'));

const urn = 'urn:uuid:7f0b5d6c-3f0e-4a3e-9a77-0a6f1f3f2b10';
const transaction = await client.transaction({
  body: {
    resourceType: 'Bundle', type: 'transaction',
    entry: [
      post(result({ reference: urn }, '54108-6', 'LA12408-3', '2026-11-21T08:05:00+00:00')),
      post(result({ reference: urn }, '54109-4', 'LA10392-1', '2026-11-21T08:00:00+00:00')),
      post(patient('K-1'), urn),
    ],
  },
});
say('transaction', transaction, transaction.entry.map((e) => e.response.status).join(','));

const location = transaction.entry[2].response.location.split('/')[1];
const everything = await client.operation({ name: 'everything', resourceType: 'Patient', id: location, method: 'GET' });
say('everything', everything, everything.entry.map((e) => e.resource.resourceType).join(','));
for (const { resource } of everything.entry) say('entry', resource);

const batch = await client.batch({
  body: {
    resourceType: 'Bundle', type: 'batch',
    entry: [
      post(result({ reference: `Patient/${location}` }, '54108-6', 'LA10392-1', '2026-11-22T08:00:00Z')),
      post(result({ identifier: { value: 'K-404' } }, '54108-6', 'LA10392-1', '2026-11-22T08:00:00Z')),
      post(result({ reference: `Patient/${location}` }, '54108-6', 'LA1', '2026-11-22T09:00:00Z')),
    ],
  },
});
say('batch', batch, batch.entry.map((e) => e.response.status).join(','));

// Entries as that library makes them: each resource with an id, none with a fullUrl; the results name Patient/id.
const built = new I4MIBundle(BundleType.TRANSACTION);
const newborn = { ...patient('K-3'), gender: PatientAdministrativeGender.FEMALE };
const { id } = built.addEntry(BundleHTTPVerb.POST, newborn).resource;
for (const [code, answer] of [['54109-4', 'LA10392-1'], ['54108-6', 'LA10393-9']]) {
  built.addEntry(BundleHTTPVerb.POST, { ...result({ reference: `Patient/${id}` }, code, answer, '2026-11-21T08:00:00Z'), status: ObservationStatus.FINAL });
}
const answered = await client.transaction({ body: built });
say('built', answered, isUUID(id), answered.entry.map((e) => e.response.status).join(','));

for (const step of ['created', 'known']) {
  const created = await client.create({
    resourceType: 'Patient', body: patient('K-2'), options: { headers: { 'If-None-Exist': 'identifier=urn:x-kit|K-2' } },
  });
  say(step, created, Client.httpFor(created).response.status);
}

try {
  await client.read({ resourceType: 'Patient', id: '0192f0c1-0000-7000-8000-000000000000' });
} catch (error) {
  say('nobody', error.response.data, error.response.status);
}
