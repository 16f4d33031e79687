"use strict";
// Sends what stands in a form to the operation it belongs to, and shows the answer as it came.
const key = document.getElementById("key");
document.getElementById("key-row").hidden = false;
for (const form of document.querySelectorAll("form.try")) {
  form.hidden = false;
  const body = form.querySelector("textarea");
  const examples = form.querySelector("select.examples");
  if (examples) examples.addEventListener("change", () => { body.value = document.getElementById(examples.value).textContent; });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const status = form.querySelector(".status"), answer = form.querySelector(".answer"), picture = form.querySelector("img");
    let path = form.dataset.path.slice(1); // relative, so that a prefix before all stays
    const query = new URLSearchParams();
    for (const field of form.querySelectorAll("[data-in]")) {
      const value = field.type === "checkbox" ? (field.checked ? "true" : "") : field.value.trim();
      if (field.dataset.in === "path") path = path.replace("{" + field.name + "}", encodeURIComponent(value));
      else if (value !== "") query.set(field.name, value);
    }
    const headers = {};
    const media = form.querySelector("select.media");
    if (media) headers.Accept = media.value;
    if (body) headers["Content-Type"] = body.dataset.media;
    if (key.value) headers.Authorization = "Bearer " + key.value;
    status.textContent = "Asking …";
    answer.hidden = picture.hidden = true;
    const began = performance.now();
    try {
      const response = await fetch(query.size ? path + "?" + query : path, { method: form.dataset.method, headers, body: body ? body.value : undefined, credentials: "omit", cache: "no-store" });
      const type = response.headers.get("Content-Type") || "";
      const text = await response.text();
      status.textContent = response.status + " " + response.statusText + ", " + type + ", " + Math.round(performance.now() - began) + " ms";
      answer.textContent = /json/.test(type) ? indented(text) : text;
      answer.hidden = text === "";
      if (type.startsWith("image/svg+xml")) {
        picture.src = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
        picture.hidden = false;
      }
    } catch (fault) {
      status.textContent = "No answer: " + fault.message;
    }
  });
}
function indented(text) {
  try { return JSON.stringify(JSON.parse(text), null, 2); } catch { return text; }
}
