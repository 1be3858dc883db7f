// Shows the description of the API in the viewer that comes with the package.
const page = document.getElementById("description");

window.SwaggerUIBundle({
  url: page.dataset.schema,
  domNode: page,
  deepLinking: true,
  validatorUrl: null,
  requestInterceptor: (request) => {
    request.headers["X-CSRFToken"] = page.dataset.csrf;
    return request;
  },
});
