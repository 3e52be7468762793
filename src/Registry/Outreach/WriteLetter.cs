using System.Net;
using MimeKit;

namespace Registry.Outreach;

/// <summary>The text of a reminder in one language: subject, greeting, paragraphs, the line before the stop link.</summary>
public sealed record Letter(string Language, string Subject, string Greeting, IReadOnlyList<string> Paragraphs, string Stop);

/// <summary>
/// Renders the letter. It is the same for every family and every step: e-mail is not private, so it names no child and says no birth
/// date, result, ear, diagnosis, hospital stay, due date (which would tell the birth date) or step (which would tell the result). Its only
/// variable parts are the telephone number and a random link. (HHS OCR FAQ 570: e-mail with safeguards, limit what it says.)
/// </summary>
public static class WriteLetter
{
    public static readonly Letter English = new("en", "A reminder to call us", "Hello,",
        [
            "It is time for the next appointment our program keeps track of for your family.",
            "Please call {phone} within the next week. We will tell you what it is about, answer your questions and help you find a time.",
            "If the appointment has already taken place, please call too, so that we can note it. For your privacy this message holds no "
                + "details; please do not reply to it.",
        ],
        "To receive no more of these messages: {link}");

    public static readonly Letter Spanish = new("es", "Un recordatorio para que nos llame", "Hola:",
        [
            "Es el momento de la próxima cita que nuestro programa sigue para su familia.",
            "Por favor, llame al {phone} durante la próxima semana. Le diremos de qué se trata, responderemos a sus preguntas y le "
                + "ayudaremos a encontrar una hora.",
            "Si la cita ya tuvo lugar, llame también, por favor, para que podamos anotarlo. Para proteger su privacidad, este mensaje no "
                + "contiene detalles; por favor, no lo responda.",
        ],
        "Para no recibir más mensajes como este: {link}");

    /// <summary>The language the family stated (a code or a name), English when it is not one we write.</summary>
    public static Letter In(string? language) =>
        language?.Trim().ToLowerInvariant() is { } l && (l == "es" || l == "spa" || l.StartsWith("es-", StringComparison.Ordinal)
            || l.StartsWith("spanish", StringComparison.Ordinal) || l.StartsWith("español", StringComparison.Ordinal))
            ? Spanish : English;

    public static string Text(Letter letter, string phone, string link) =>
        string.Join("\r\n\r\n", [letter.Greeting, .. letter.Paragraphs, letter.Stop]).Replace("{phone}", phone, StringComparison.Ordinal)
            .Replace("{link}", link, StringComparison.Ordinal) + "\r\n";

    public static string Html(Letter letter, string phone, string link)
    {
        var anchor = $"""<a href="{WebUtility.HtmlEncode(link)}">{WebUtility.HtmlEncode(link)}</a>""";
        var lines = letter.Paragraphs.Prepend(letter.Greeting).Append(letter.Stop)
            .Select(p => WebUtility.HtmlEncode(p).Replace("{phone}", WebUtility.HtmlEncode(phone), StringComparison.Ordinal)
                .Replace("{link}", anchor, StringComparison.Ordinal))
            .Select(p => $"<p>{p}</p>");
        return $"<!DOCTYPE html><html lang=\"{letter.Language}\"><head><meta charset=\"utf-8\">"
            + $"<title>{WebUtility.HtmlEncode(letter.Subject)}</title></head><body>{string.Concat(lines)}</body></html>";
    }

    /// <summary>The message. Its Message-ID is the reminder's id, so that a mailbox recognises a copy.</summary>
    public static MimeMessage Message(Reminder reminder, string to, string? language, string phone, OutreachOptions options,
        DateTimeOffset now)
    {
        var letter = In(language);
        var link = StopLink(options, reminder.StopToken);
        var from = new MailboxAddress(options.SenderName, options.From);
        var message = new MimeMessage
        {
            Subject = letter.Subject,
            Date = now,
            MessageId = $"{reminder.Id:n}@{from.Domain}",
            Body = new BodyBuilder { TextBody = Text(letter, phone, link), HtmlBody = Html(letter, phone, link) }.ToMessageBody(),
        };
        message.From.Add(from);
        message.To.Add(new MailboxAddress("", to));
        message.Headers.Add("Auto-Submitted", "auto-generated"); // RFC 3834: no vacation answers
        message.Headers.Add("List-Unsubscribe", $"<{link}>");
        message.Headers.Add("List-Unsubscribe-Post", "List-Unsubscribe=One-Click"); // RFC 8058
        return message;
    }

    public static string StopLink(OutreachOptions options, string token) => $"{options.PublicUrl.TrimEnd('/')}/stop/{token}";
}
