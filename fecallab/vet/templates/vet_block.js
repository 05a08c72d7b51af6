/* The answer as a block of text: first line with length and CRC-32, base64 in lines of 64, last line. */
function crc32(bytes) {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let k = 0; k < 8; k += 1) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ((crc ^ 0xffffffff) >>> 0).toString(16).padStart(8, "0");
}

function toBlock(text) {
  const bytes = new TextEncoder().encode(text);
  let raw = "";
  for (let at = 0; at < bytes.length; at += 8192) raw += String.fromCharCode(...bytes.subarray(at, at + 8192));
  const letters = btoa(raw).replace(/=+$/, "");
  const lines = letters.match(/.{1,64}/g) || [];
  return [`fecallab answer begins (1, ${letters.length}, ${crc32(bytes)})`, ...lines, "fecallab answer ends"].join("\n");
}
