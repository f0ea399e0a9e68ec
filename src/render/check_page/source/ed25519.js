// Ed25519 (RFC 8032) by the browser's own WebCrypto, as strictly as the program.
//
// Where implementations differ: some take keys and points of small order, with which anybody can sign anything; some
// take a second spelling of a key or of the number s, so that one signature has two forms. Browsers need not refuse
// any of these (the specification asks for it only since 2024), so they are refused here before the browser is
// asked. What is left is the check without the cofactor, on which BoringSSL, NSS and CryptoKit agree with
// `verify_strict` of ed25519-dalek, but for a point R written in a second way that is not of small order: nobody
// knows how to sign with one.

const P = (1n << 255n) - 19n;
const L = (1n << 252n) + 27742317777372353535851937790883648493n;

const mod = (a) => ((a % P) + P) % P;
function power(base, exponent) {
  let [result, square] = [1n, mod(base)];
  for (let rest = exponent; rest > 0n; rest >>= 1n) {
    if (rest & 1n) result = (result * square) % P;
    square = (square * square) % P;
  }
  return result;
}
const D = mod(-121665n * power(121666n, P - 2n));

const littleEndian = (bytes) => bytes.reduceRight((sum, byte) => (sum << 8n) | BigInt(byte), 0n);

/**
 * A point as it is written: y, and x² as the fraction `above` / `below`, which is never divided. `below` is never 0,
 * and x² is a square exactly where `above` times `below` is one.
 */
function point(bytes) {
  const all = littleEndian(bytes);
  const y = all & ((1n << 255n) - 1n);
  const [above, below] = [mod(y * y - 1n), mod(D * y * y + 1n)];
  const onCurve = above === 0n || power(above * below, (P - 1n) / 2n) === 1n;
  const signOfZero = above === 0n && all >> 255n === 1n;
  return { y: mod(y), above, below, onCurve, canonical: y < P && !signOfZero };
}

/** True for the eight points that added to themselves eight times give nothing: x or y is 0, or of order 8. */
function isSmall({ y, above, below }) {
  if (above === 0n || y === 0n) return true;
  // Doubling a point of order 8 gives one of order 4, whose y is 0: y² + x² = 0 on this curve (a = -1).
  return mod(y * y * below + above) === 0n;
}

/** Whether a public key may be relied on at all: a point, in its one spelling, not of small order. */
export function isStrongKey(bytes) {
  if (bytes.length !== 32) return false;
  const key = point(bytes);
  return key.onCurve && key.canonical && !isSmall(key);
}

const imported = new Map();

/** Whether a signature is right. The key must be one that `isStrongKey` said yes to. */
export async function verify(keyBytes, signature, message) {
  if (signature.length !== 64 || littleEndian(signature.subarray(32)) >= L) return false;
  const r = point(signature.subarray(0, 32));
  if (!r.onCurve || isSmall(r)) return false;
  const name = String(keyBytes);
  if (!imported.has(name)) {
    imported.set(name, await crypto.subtle.importKey('raw', keyBytes, 'Ed25519', false, ['verify']));
  }
  return crypto.subtle.verify('Ed25519', imported.get(name), signature, message);
}

// RFC 8032 section 7.1, TEST 2.
const TEST = [
  '3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c',
  '92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00',
  '72',
].map((hex) => Uint8Array.from(hex.match(/../g), (two) => parseInt(two, 16)));

/** Whether this browser has Ed25519 and gives the right answers for a known signature, and for it bent. */
export async function browserCan() {
  try {
    const [key, signature, message] = TEST;
    const bent = Uint8Array.from(signature, (byte, i) => (i === 0 ? byte ^ 1 : byte));
    const raw = await crypto.subtle.importKey('raw', key, 'Ed25519', false, ['verify']);
    const ask = (s) => crypto.subtle.verify('Ed25519', raw, s, message);
    return (await ask(signature)) === true && (await ask(bent)) === false;
  } catch {
    return false;
  }
}
