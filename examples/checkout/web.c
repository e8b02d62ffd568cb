/*
 * Pages and calls. See web.h. Calls that change something take JSON from a page of our own only: the browser tells where a
 * page came from, and a foreign one cannot set our header.
 */
#include "web.h"

#include <microhttpd.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { BODY_MAX = 4096, PAGE_MAX = 262144, KEYS_MAX = 2048, NEWS_WAIT_MS = 15000 };

#define OWN_HEADER "X-Checkout"
#define POLICY_PAGE                                                                                                    \
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; "   \
    "form-action 'none'; frame-ancestors 'none'"
#define POLICY_PAPER "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'"

struct web {
    struct shop *shop;
    struct MHD_Daemon *daemon;
    const char *pages;
    uint16_t port;
};

struct request {
    char body[BODY_MAX + 1];
    size_t length;
    bool too_large;
};

/* ---- Answering ---- */

static enum MHD_Result answer(struct MHD_Connection *connection, unsigned status, const char *type, const char *policy,
                              char *text)
{
    struct MHD_Response *response = MHD_create_response_from_buffer(strlen(text), text, MHD_RESPMEM_MUST_COPY);
    free(text);
    if (response == NULL)
        return MHD_NO;
    MHD_add_response_header(response, "Content-Type", type);
    MHD_add_response_header(response, "Content-Security-Policy", policy);
    MHD_add_response_header(response, "X-Content-Type-Options", "nosniff");
    MHD_add_response_header(response, "Referrer-Policy", "no-referrer");
    MHD_add_response_header(response, "Cache-Control", "no-store");
    enum MHD_Result result = MHD_queue_response(connection, status, response);
    MHD_destroy_response(response);
    return result;
}

static enum MHD_Result answer_told(struct MHD_Connection *connection, unsigned status, const char *told)
{
    cJSON *object = cJSON_CreateObject();
    cJSON_AddBoolToObject(object, "good", status == MHD_HTTP_OK);
    cJSON_AddStringToObject(object, "told", told);
    char *text = cJSON_PrintUnformatted(object);
    cJSON_Delete(object);
    return text != NULL ? answer(connection, status, "application/json", POLICY_PAGE, text) : MHD_NO;
}

static enum MHD_Result answer_result(struct MHD_Connection *connection, int32_t result, const char *told)
{
    if (result == SHOP_STALE)
        return answer_told(connection, MHD_HTTP_CONFLICT, "");
    return answer_told(connection, result == CFOIL_OK ? MHD_HTTP_OK : MHD_HTTP_UNPROCESSABLE_CONTENT, told);
}

static enum MHD_Result answer_document(struct MHD_Connection *connection, const char *type, const char *policy,
                                       char *text)
{
    if (text == NULL)
        return answer_told(connection, MHD_HTTP_NOT_FOUND, "There is no such thing.");
    return answer(connection, MHD_HTTP_OK, type, policy, text);
}

/* ---- Files of the page ---- */

static char *file_read(const char *folder, const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return NULL;
    char *text = malloc(PAGE_MAX + 1);
    size_t length = text != NULL ? fread(text, 1, PAGE_MAX, file) : 0;
    fclose(file);
    if (text != NULL)
        text[length] = '\0';
    return text;
}

static const struct {
    const char *path;
    const char *name;
    const char *type;
} files[] = {
    {"/", "checkout.html", "text/html; charset=utf-8"},
    {"/checkout.css", "checkout.css", "text/css; charset=utf-8"},
    {"/checkout.mjs", "checkout.mjs", "text/javascript; charset=utf-8"},
};

/* ---- News: server-sent events (HTML Living Standard, section 9.2) ---- */

struct news {
    struct shop *shop;
    uint64_t seen;
};

static ssize_t news_read(void *user, uint64_t position, char *buffer, size_t capacity)
{
    struct news *news = user;
    (void)position;
    uint64_t version = shop_news_wait(news->shop, news->seen, NEWS_WAIT_MS);
    if (version == 0)
        return MHD_CONTENT_READER_END_OF_STREAM;
    int length = version == news->seen
                     ? snprintf(buffer, capacity, ": still here\n\n")
                     : snprintf(buffer, capacity, "retry: 1000\ndata: %llu\n\n", (unsigned long long)version);
    news->seen = version;
    return length;
}

static enum MHD_Result news_answer(struct MHD_Connection *connection, struct shop *shop)
{
    struct news *news = calloc(1, sizeof *news);
    if (news == NULL)
        return MHD_NO;
    news->shop = shop;
    struct MHD_Response *response = MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 256, news_read, news, free);
    if (response == NULL) {
        free(news);
        return MHD_NO;
    }
    MHD_add_response_header(response, "Content-Type", "text/event-stream");
    MHD_add_response_header(response, "Cache-Control", "no-store");
    enum MHD_Result result = MHD_queue_response(connection, MHD_HTTP_OK, response);
    MHD_destroy_response(response);
    return result;
}

/* ---- Reading ---- */

static const char *query(struct MHD_Connection *connection, const char *name)
{
    const char *value = MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, name);
    return value != NULL ? value : "";
}

/* The messages under the keys that the page names, commas between. */
static char *messages_text(struct shop *shop, const char *keys)
{
    char list[KEYS_MAX];
    char *rest = list;
    snprintf(list, sizeof list, "%s", keys);
    cJSON *object = cJSON_CreateObject();
    for (char *key = strtok_r(list, ",", &rest); key != NULL; key = strtok_r(NULL, ",", &rest)) {
        char *text = shop_message(shop, key);
        if (text != NULL)
            cJSON_AddStringToObject(object, key, text);
        free(text);
    }
    char *text = cJSON_PrintUnformatted(object);
    cJSON_Delete(object);
    return text;
}

static enum MHD_Result get(struct web *web, struct MHD_Connection *connection, const char *path)
{
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        if (strcmp(path, files[i].path) == 0)
            return answer_document(connection, files[i].type, POLICY_PAGE, file_read(web->pages, files[i].name));
    }
    if (strcmp(path, "/favicon.ico") == 0) /* browsers ask for it unbidden; there is none */
        return answer(connection, MHD_HTTP_NO_CONTENT, "image/x-icon", POLICY_PAGE, calloc(1, 1));
    if (strcmp(path, "/news") == 0)
        return news_answer(connection, web->shop);
    if (strcmp(path, "/state") == 0)
        return answer_document(connection, "application/json", POLICY_PAGE, shop_state(web->shop));
    if (strcmp(path, "/messages") == 0)
        return answer_document(connection, "application/json", POLICY_PAGE,
                               messages_text(web->shop, query(connection, "keys")));
    if (strcmp(path, "/picture") == 0)
        return answer_document(connection, "image/svg+xml", POLICY_PAPER, shop_picture(web->shop));
    if (strcmp(path, "/receipt") == 0)
        return answer_document(connection, "text/html; charset=utf-8", POLICY_PAPER,
                               shop_receipt(web->shop, query(connection, "case")));
    return answer_told(connection, MHD_HTTP_NOT_FOUND, "There is no such page.");
}

/* ---- Changing ---- */

static const char *text_in(const cJSON *object, const char *key)
{
    const char *text = cJSON_GetStringValue(cJSON_GetObjectItemCaseSensitive(object, key));
    return text != NULL ? text : "";
}

static int64_t number_in(const cJSON *object, const char *key)
{
    const cJSON *item = cJSON_GetObjectItemCaseSensitive(object, key);
    bool whole = cJSON_IsNumber(item) && item->valuedouble >= 0 && item->valuedouble < 9.0e15;
    return whole ? (int64_t)item->valuedouble : 0;
}

static const char *given_in(const cJSON *object, const char *key)
{
    const char *text = text_in(object, key);
    return text[0] != '\0' ? text : NULL;
}

static int32_t disposition_of(const char *word)
{
    static const char *const words[] = {"", "taken", "not_taken", "set_aside", "abandoned"};
    for (int32_t code = CFOIL_DISPOSITION_TAKEN; code <= CFOIL_DISPOSITION_ABANDONED; code++) {
        if (strcmp(words[code], word) == 0)
            return code;
    }
    return CFOIL_DISPOSITION_NONE;
}

static int32_t answer_of(const char *word)
{
    static const char *const words[] = {"", "as_it_should_be", "not_as_it_should_be", "cannot_tell"};
    for (int32_t code = CFOIL_ANSWER_AS_IT_SHOULD_BE; code <= CFOIL_ANSWER_CANNOT_TELL; code++) {
        if (strcmp(words[code], word) == 0)
            return code;
    }
    return 0;
}

static int32_t dispose(struct shop *shop, const cJSON *wish, char told[SHOP_TOLD_SIZE])
{
    cfoil_disposition_options options = CFOIL_DISPOSITION_OPTIONS_INIT;
    options.disposition = disposition_of(text_in(wish, "disposition"));
    options.envelope = given_in(wish, "envelope");
    options.override_by = given_in(wish, "by");
    options.override_why = given_in(wish, "why");
    return shop_dispose(shop, text_in(wish, "case"), number_in(wish, "turn"), &options, told);
}

static enum MHD_Result worth_answer(struct web *web, struct MHD_Connection *connection, const cJSON *wish)
{
    char told[SHOP_TOLD_SIZE] = "";
    char *text = shop_worth(web->shop, wish, told);
    enum MHD_Result result = answer_told(connection, text != NULL ? MHD_HTTP_OK : MHD_HTTP_UNPROCESSABLE_CONTENT,
                                         text != NULL ? text : told);
    free(text);
    return result;
}

static enum MHD_Result wish_follow(struct web *web, struct MHD_Connection *connection, const char *path,
                                   const cJSON *wish)
{
    char told[SHOP_TOLD_SIZE] = "";
    const char *id = text_in(wish, "case");
    int64_t turn = number_in(wish, "turn");
    int32_t result;
    if (strcmp(path, "/worth") == 0)
        return worth_answer(web, connection, wish);
    if (strcmp(path, "/case") == 0)
        result = shop_case_open(web->shop, number_in(wish, "value_minor"), told);
    else if (strcmp(path, "/answer") == 0)
        result = shop_answer(web->shop, id, turn, text_in(wish, "check"), answer_of(text_in(wish, "answer")), told);
    else if (strcmp(path, "/serial") == 0)
        result = shop_serial_set(web->shop, id, turn, text_in(wish, "serial"), told);
    else if (strcmp(path, "/end") == 0)
        result = dispose(web->shop, wish, told);
    else if (strcmp(path, "/language") == 0)
        result = shop_language_set(web->shop, text_in(wish, "language"), told);
    else
        return answer_told(connection, MHD_HTTP_NOT_FOUND, "There is no such call.");
    return answer_result(connection, result, told);
}

static enum MHD_Result post(struct web *web, struct MHD_Connection *connection, const char *path,
                            const struct request *request)
{
    if (MHD_lookup_connection_value(connection, MHD_HEADER_KIND, OWN_HEADER) == NULL)
        return answer_told(connection, MHD_HTTP_FORBIDDEN, "Calls come from the checkout's own page only.");
    if (request->too_large)
        return answer_told(connection, MHD_HTTP_CONTENT_TOO_LARGE, "The call is longer than any that the page makes.");
    cJSON *wish = cJSON_Parse(request->body);
    enum MHD_Result result = cJSON_IsObject(wish)
                                 ? wish_follow(web, connection, path, wish)
                                 : answer_told(connection, MHD_HTTP_BAD_REQUEST, "The call is not a JSON object.");
    cJSON_Delete(wish);
    return result;
}

/* ---- One request ---- */

/* A foreign page that got its own name to point here must not be served (DNS rebinding). */
static bool host_right(const struct web *web, struct MHD_Connection *connection)
{
    const char *host = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Host");
    char names[2][32];
    snprintf(names[0], sizeof names[0], "127.0.0.1:%u", web->port);
    snprintf(names[1], sizeof names[1], "localhost:%u", web->port);
    return host != NULL && (strcmp(host, names[0]) == 0 || strcmp(host, names[1]) == 0);
}

static void body_take(struct request *request, const char *bytes, size_t length)
{
    if (request->length + length > BODY_MAX) {
        request->too_large = true;
        return;
    }
    memcpy(request->body + request->length, bytes, length);
    request->length += length;
}

static enum MHD_Result request_follow(void *user, struct MHD_Connection *connection, const char *path,
                                      const char *method, const char *version, const char *bytes, size_t *length,
                                      void **state)
{
    struct web *web = user;
    (void)version;
    if (*state == NULL) {
        *state = calloc(1, sizeof(struct request));
        return *state != NULL ? MHD_YES : MHD_NO;
    }
    struct request *request = *state;
    if (*length > 0) {
        body_take(request, bytes, *length);
        *length = 0;
        return MHD_YES;
    }
    if (!host_right(web, connection))
        return answer_told(connection, MHD_HTTP_MISDIRECTED_REQUEST,
                           "This checkout is served under its own address only.");
    if (strcmp(method, "GET") == 0)
        return get(web, connection, path);
    if (strcmp(method, "POST") == 0)
        return post(web, connection, path, request);
    return answer_told(connection, MHD_HTTP_METHOD_NOT_ALLOWED, "Use GET or POST.");
}

static void request_end(void *user, struct MHD_Connection *connection, void **state,
                        enum MHD_RequestTerminationCode code)
{
    (void)user;
    (void)connection;
    (void)code;
    free(*state);
    *state = NULL;
}

/* ---- Opening and closing ---- */

struct web *web_open(struct shop *shop, const char *pages, uint16_t port)
{
    struct web *web = calloc(1, sizeof *web);
    if (web == NULL)
        return NULL;
    web->shop = shop;
    web->pages = pages;
    struct sockaddr_in here = {.sin_family = AF_INET, .sin_port = htons(port)};
    here.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    web->daemon = MHD_start_daemon(MHD_USE_INTERNAL_POLLING_THREAD | MHD_USE_THREAD_PER_CONNECTION, port, NULL, NULL,
                                   request_follow, web, MHD_OPTION_SOCK_ADDR, &here, MHD_OPTION_NOTIFY_COMPLETED,
                                   request_end, NULL, MHD_OPTION_CONNECTION_LIMIT, 64u, MHD_OPTION_END);
    if (web->daemon == NULL) {
        free(web);
        return NULL;
    }
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(web->daemon, MHD_DAEMON_INFO_BIND_PORT);
    web->port = info != NULL ? info->port : port;
    return web;
}

uint16_t web_port(const struct web *web)
{
    return web->port;
}

void web_close(struct web *web)
{
    MHD_stop_daemon(web->daemon);
    free(web);
}
