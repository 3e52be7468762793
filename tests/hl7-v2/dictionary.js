// What hl7-dictionary says of the places and tables we use: prints JSON.
const { definitions, tables } = require('hl7-dictionary');

const places = process.argv.slice(2).map((place) => {
  const [segment, field] = place.split('-');
  return [place, definitions['2.6'].segments[segment].fields[Number(field) - 1].desc];
});
console.log(JSON.stringify({ places: Object.fromEntries(places), conditions: tables['357'].values, severities: tables['516'].values, statuses: tables['85'].values, relationships: tables['63'].values }));
