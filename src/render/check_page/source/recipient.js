// age recipients (C2SP age, X25519): bech32 (BIP 173) of 32 bytes under `age`.

const SIGNS = 'qpzry9x8gf2tvdw0s3jn54khce6mua7l';
const GENERATOR = [0x3b6a57b2, 0x26508e6d, 0x1ea119fa, 0x3d4233dd, 0x2a1462b3];

function polymod(values) {
  return values.reduce((sum, value) => {
    const top = sum >>> 25;
    const next = ((sum & 0x1ffffff) << 5) ^ value;
    return GENERATOR.reduce((all, g, i) => ((top >> i) & 1 ? all ^ g : all), next);
  }, 1);
}

export function isRecipient(text) {
  const found = /^age1([a-z0-9]{58})$/.exec(text.trim());
  if (!found) return false;
  const values = Array.from(found[1], (sign) => SIGNS.indexOf(sign));
  if (values.includes(-1)) return false;
  // 52 values carry 260 bits for 256: the last four are zero.
  const prefix = Array.from('age', (c) => c.charCodeAt(0));
  const spread = [...prefix.map((c) => c >> 5), 0, ...prefix.map((c) => c & 31)];
  return (values[51] & 15) === 0 && polymod([...spread, ...values]) === 1;
}
