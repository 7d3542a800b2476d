// Photographs are made smaller on the device before they are sent: a shed's Wi-Fi is slow, and nothing is lost that is kept.

const LONGEST = 1600;

async function smaller(file) {
  if (!file.type.startsWith("image/") || file.size < 300_000) return file;
  try {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const share = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
    const canvas = Object.assign(document.createElement("canvas"), {
      width: Math.round(picture.width * share), height: Math.round(picture.height * share),
    });
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
    return blob ? new File([blob], "photograph.jpg", { type: "image/jpeg" }) : file;
  } catch {
    return file; // the server judges it
  }
}

for (const input of document.querySelectorAll("input[type=file][name=photograph]")) {
  input.addEventListener("change", async () => {
    const kept = new DataTransfer();
    for (const file of await Promise.all([...input.files].map(smaller))) kept.items.add(file);
    input.files = kept.files;
  });
}
