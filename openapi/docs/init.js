"use strict";

// The address is relative, so that the page also works below a path of the public address.
// validatorUrl null: the stock page would send the document to an outside service.
window.ui = SwaggerUIBundle({
  url: "../openapi.json",
  dom_id: "#reference",
  deepLinking: true,
  validatorUrl: null,
  persistAuthorization: false,
  defaultModelsExpandDepth: 0,
  presets: [SwaggerUIBundle.presets.apis],
});
