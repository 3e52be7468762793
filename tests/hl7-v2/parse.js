// Parses the messages of a file (separated by a blank line), again and again for about a second each, and prints messages a second.
const fs = require('fs');
const { Parser } = require('simple-hl7');
const { Message } = require('node-hl7-client');

const messages = fs.readFileSync(process.argv[2], 'utf8').split('\n\n').filter((m) => m.length > 0);
let kept = 0;

// Each reads what a receiver needs at least: the control id, the record number, the birth date, and code and status of every OBX.
const readers = {
  'simple-hl7': (text) => {
    const m = new Parser().parse(text);
    kept += m.header.getField(8).length + m.getSegment('PID').getComponent(3, 1).length + m.getSegment('PID').getField(7).length;
    for (const obx of m.getSegments('OBX')) kept += obx.getComponent(3, 1).length + obx.getComponent(5, 1).length + obx.getField(11).length;
  },
  'node-hl7-client': (text) => {
    const m = new Message({ text });
    kept += m.get('MSH.10').toString().length + m.get('PID.3.1').toString().length + m.get('PID.7').toString().length;
    if (m.exists('OBX')) m.get('OBX').forEach((obx) => { kept += obx.get('3.1').toString().length + obx.get('5.1').toString().length + obx.get('11').toString().length; });
  },
};

function run(read, seconds) {
  const start = process.hrtime.bigint();
  let count = 0;
  let elapsed;
  do {
    for (const m of messages) read(m);
    count += messages.length;
    elapsed = Number(process.hrtime.bigint() - start) / 1e9;
  } while (elapsed < seconds);
  return count / elapsed;
}

for (const [name, read] of Object.entries(readers)) {
  run(read, 0.5);
  console.log(`${name} ${Math.max(run(read, 1), run(read, 1), run(read, 1)).toFixed(0)}`);
}

if (kept < 0) console.log(kept);
