"""Who may open the addresses of feeds: whoever has the secret. The feed's view refuses what is not GET itself."""

ANY = "GET POST PUT PATCH DELETE PROPFIND PROPPATCH MKCOL MKCALENDAR REPORT COPY MOVE LOCK UNLOCK"

ROWS = {
    "pages:feed": dict.fromkeys(("nobody", "office", "crew", "homeowner"), ANY),
    "pages:stop": dict.fromkeys(("nobody", "office", "crew", "homeowner"), "GET POST"),
}
