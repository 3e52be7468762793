using System.ComponentModel.DataAnnotations;
using Registry.Platform;
using Registry.Rules;

namespace Registry.Outreach;

/// <summary>How a mail server is reached.</summary>
public enum SmtpSecurity
{
    /// <summary>STARTTLS; a server that does not offer it is sent nothing.</summary>
    StartTls,
    Tls,

    /// <summary>Plain text: to a server on this machine only.</summary>
    None,
}

/// <summary>The mail server; without a host, reminders are written as files.</summary>
public sealed record SmtpOptions
{
    public string? Host { get; init; }
    [Range(1, 65535)] public int Port { get; init; } = 587;
    public SmtpSecurity Security { get; init; }
    public string? Username { get; init; }
    public string? Password { get; init; }

    /// <summary>Letters name families' addresses: between machines they travel by TLS.</summary>
    internal bool IsSafe => Security != SmtpSecurity.None || string.IsNullOrEmpty(Host) || ListenAddresses.IsLoopbackHost(Host);
}

/// <summary>To whom, when and how often the program writes; bound from <c>Outreach</c>. The defaults are ours (no published
/// rule).</summary>
public sealed record OutreachOptions
{
    /// <summary>Sender's address and name. Neutral: a name that says "hearing" tells whoever sees the inbox.</summary>
    [Required, EmailAddress] public string From { get; init; } = "appointments@registry.example";
    [Required] public string SenderName { get; init; } = "Family appointment line";

    /// <summary>Who keeps the nightly digests of the access trail; empty: only the log and the database do.</summary>
    [EmailAddress] public string? DigestTo { get; init; }

    /// <summary>Where families reach the pages of this service: the start of the link that ends the reminders.</summary>
    [Required, Url] public string PublicUrl { get; init; } = "http://127.0.0.1:5180";

    /// <summary>Where reminders are written when no mail server is set. Empty: <c>outbox</c> in the data folder.</summary>
    public string? Folder { get; init; }
    public SmtpOptions Smtp { get; init; } = new();

    /// <summary>The first reminder is queued this many days before the step is due.</summary>
    [Range(0, 365)] public int DaysBefore { get; init; } = 7;

    /// <summary>The next about the same step not before this many days after the last.</summary>
    [Range(1, 365)] public int RepeatDays { get; init; } = 21;

    /// <summary>Reminders about one step, at most.</summary>
    [Range(1, 10)] public int MaxPerStep { get; init; } = 3;

    /// <summary>No reminder about a step overdue for longer.</summary>
    [Range(0, 3650)] public int MaxDaysOverdue { get; init; } = 180;

    /// <summary>Days between two reminders to one address, whatever they are about: twins get one.</summary>
    [Range(1, 365)] public int GapDays { get; init; } = 7;

    /// <summary>Tries while the mail server refuses for the moment.</summary>
    [Range(1, 20)] public int MaxAttempts { get; init; } = 5;

    /// <summary>Reminders sent by one run of the sending job.</summary>
    [Range(1, 100_000)] public int PerRun { get; init; } = 500;

    /// <summary>Steps a family can act on. Referral, enrolment and plans are the program's own duty and get no reminder.</summary>
    public IReadOnlyList<DueStep> Steps { get; init; } = [];

    internal IReadOnlyList<DueStep> StepsOrDefault => Steps.Count > 0 ? Steps :
    [
        DueStep.Screen, DueStep.CompleteScreen, DueStep.Rescreen, DueStep.RepeatScreen, DueStep.AbrScreen, DueStep.CmvTest,
        DueStep.DiagnosticEvaluation, DueStep.CompleteDiagnosis, DueStep.MiddleEarReevaluation, DueStep.SurveillanceEvaluation,
        DueStep.Monitoring,
    ];
}
