// Messages built by simple-hl7, sent over MLLP by node-hl7-client, one connection, one after another.
// Usage: node send.js PORT NUMBER…   Prints one line a message: the acknowledgement code and MSA-2.
const { Message } = require('simple-hl7');
const { Client, Message: Read } = require('node-hl7-client');

function header(type, control) {
  const message = new Message('SCREENING', 'HARBOUR', 'REGISTRY', 'LINDMERE', '20261121100000', '', type, control, 'P', '2.5.1');
  for (let i = 0; i < 5; i++) message.header.addField('');
  message.header.addField('UNICODE UTF-8');
  return message;
}

function patient(message, number) {
  message.addSegment('PID', '1', '', [number, '', '', 'HARBOUR', 'MR'], '', [`Mårlow-${number}`, 'Girl'], '', '20261120', 'F');
  message.addSegment('NK1', '1', [`Mårlow-${number}`, 'Ada'], ['MTH', 'Mother', 'HL70063']);
}

function admission(number) {
  const message = header(['ADT', 'A01', 'ADT_A01'], `A-${number}`);
  message.addSegment('EVN', 'A01', '20261121100000');
  patient(message, number);
  message.addSegment('PV1', '1', 'I', ['NURSERY', '1'], 'N');
  return message;
}

function results(number) {
  const message = header(['ORU', 'R01', 'ORU_R01'], `R-${number}`);
  patient(message, number);
  message.addSegment('PV1', '1', 'I', ['NURSERY', '1']);
  for (const [ear, result, order] of [['right', '54109-4', '73744-5'], ['left', '54108-6', '73741-1']]) {
    message.addSegment('OBR', ear === 'right' ? '1' : '2', '', '', [order, `Newborn hearing screen panel of Ear - ${ear}`, 'LN'], '', '', '202611210915');
    message.addSegment('OBX', '1', 'CWE', [result, `Newborn hearing screen of Ear - ${ear}`, 'LN'], '1', ['LA10392-1', 'Pass', 'LN'], '', '', '', '', '', 'F', '', '', '202611210915');
    message.addSegment('OBX', '2', 'CWE', ['54106-0', 'Newborn hearing screen method', 'LN'], '1', ['LA10387-1', 'Automated auditory brainstem response', 'LN'], '', '', '', '', '', 'F');
  }

  return message;
}

async function main() {
  const [port, ...numbers] = process.argv.slice(2);
  const client = new Client({ host: '127.0.0.1', ipv4: true });
  let answered;
  const connection = client.createConnection({ port: Number(port), waitAck: true }, async (response) => {
    const ack = response.getMessage();
    console.log(`${ack.get('MSA.1').toString()} ${ack.get('MSA.2').toString()}`);
    answered();
  });
  for (const number of numbers) {
    for (const message of [admission(number), results(number)]) {
      const answer = new Promise((resolve) => { answered = resolve; });
      await connection.sendMessage(new Read({ text: message.toString() }));
      await answer;
    }
  }

  await connection.close();
  await client.closeAll();
  process.exit(0);
}

main().catch((error) => { console.error(error); process.exit(1); });
