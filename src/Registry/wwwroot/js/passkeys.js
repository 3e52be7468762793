// Forms that ask the browser for a passkey before they are sent. Without one, or without script, they stay hidden.
"use strict";

for (const form of document.querySelectorAll("form[data-passkey]")) {
  if (!window.PublicKeyCredential?.parseCreationOptionsFromJSON) continue;
  form.hidden = false;
  form.addEventListener("submit", async event => {
    if (form.elements.Answer.value) return;
    event.preventDefault();
    const options = JSON.parse(form.dataset.options);
    try {
      const credential = form.dataset.passkey === "new"
        ? await navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(options) })
        : await navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(options) });
      form.elements.Answer.value = JSON.stringify(credential);
      form.submit();
    } catch {
      form.querySelector("[role=alert]").hidden = false;
    }
  });
}
