// Asking the server something that is not an act. Answers are parsed; a refusal is thrown as {code, message, field, hint}.

export const talk =
  (token) =>
  async (path, body = null) => {
    const headers = {
      Accept: "application/json",
      "X-CSRFToken": token,
      ...(body ? { "Content-Type": "application/json" } : {}),
    };
    let response;
    let answer;
    try {
      response = await fetch(path, {
        method: body ? "POST" : "GET",
        credentials: "same-origin",
        headers,
        body: body ? JSON.stringify(body) : undefined,
      });
      answer = await response.json();
    } catch {
      throw {
        code: "unreachable",
        message: "The server cannot be reached now.",
        field: "",
        hint: "Try again in a moment.",
      };
    }
    if (!response.ok) throw answer.error ?? { code: "refused", message: "The server refused.", field: "", hint: "" };
    return answer;
  };
