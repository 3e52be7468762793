// Verifies an access trail, written from docs/trail.md alone: a file of entries as JSON lines in, the answer out.
import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { createInterface } from 'node:readline';

let before = '0'.repeat(64);
let entries = 0;
for await (const line of createInterface({ input: createReadStream(process.argv[2]) })) {
  if (!line) continue;
  const e = JSON.parse(line);
  const fields = ['registry-trail-1', before, e.at, e.kind, e.person_id, e.site_key_id, e.action, e.handler, e.filter, e.infant_id,
    e.infant_count, e.infants?.join(','), e.subject_id, e.note, e.address];
  const hash = createHash('sha256').update(fields.map(f => `${f ?? ''}\n`).join(''), 'utf8').digest('hex');
  if (hash !== e.hash) {
    console.log(`broken at ${e.id}`);
    process.exit(0);
  }
  before = hash;
  entries++;
}
console.log(`intact ${entries} ${before}`);
