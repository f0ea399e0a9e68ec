// Moments and days as a record writes them: whole seconds, with their own offset.

const MOMENT = /^(\d{4}-\d\d-\d\d)T(\d\d):(\d\d):(\d\d)(?:Z|([+-])(\d\d):(\d\d))$/;

/** `YYYY-MM-DD` of a day that exists; otherwise null. Days compare as texts do. */
export function readDay(text) {
  const found = /^(\d{4})-(\d\d)-(\d\d)$/.exec(text);
  if (!found) return null;
  const [year, month, day] = found.slice(1).map(Number);
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  const days = [31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
  return month >= 1 && month <= 12 && day >= 1 && day <= days[month - 1] ? text : null;
}

/** A moment: its instant in seconds, the local day that stands there, and its one spelling. Otherwise null. */
export function readMoment(text) {
  const found = typeof text === 'string' ? MOMENT.exec(text) : null;
  if (!found || readDay(found[1]) === null) return null;
  const [hour, minute, second] = found.slice(2, 5).map(Number);
  if (hour > 23 || minute > 59 || second > 59) return null;
  let east = 0;
  if (found[5] !== undefined) {
    const [hours, minutes] = [Number(found[6]), Number(found[7])];
    if (hours > 23 || minutes > 59) return null;
    east = (hours * 60 + minutes) * 60 * (found[5] === '-' ? -1 : 1);
  }
  const instant = daysSince1970(found[1]) * 86400 + hour * 3600 + minute * 60 + second - east;
  const spelt = east === 0 && found[5] === '-' ? text.replace('-00:00', '+00:00') : text;
  return { instant, day: found[1], text: spelt };
}

/** Howard Hinnant's days_from_civil: `Date` counts years below 100 from 1900. */
function daysSince1970(day) {
  const [year, month, date] = day.split('-').map(Number);
  const y = month <= 2 ? year - 1 : year;
  const era = Math.floor(y / 400);
  const ofEra = y - era * 400;
  const ofYear = Math.floor((153 * (month + (month > 2 ? -3 : 9)) + 2) / 5) + date - 1;
  return era * 146097 + ofEra * 365 + Math.floor(ofEra / 4) - Math.floor(ofEra / 100) + ofYear - 719468;
}
