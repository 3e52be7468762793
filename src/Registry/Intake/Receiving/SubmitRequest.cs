using System.Net.Mime;
using FluentValidation;
using Microsoft.AspNetCore.Mvc;
using Registry.Intake.Formats;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Receiving;

/// <summary>What a sender states beside the body of <c>POST /api/v1/submissions</c>.</summary>
public sealed record SubmitRequest
{
    /// <summary>What every row reports, for files without a kind column.</summary>
    [FromQuery(Name = "kind")] public string? Kind { get; init; }

    /// <summary>Code of the site the rows come from; a site's key and people may leave it out.</summary>
    [FromQuery(Name = "site")] public string? Site { get; init; }

    /// <summary>Name of the site's column mapping, for files with other columns than ours; without it the header decides.</summary>
    [FromQuery(Name = "mapping")] public string? Mapping { get; init; }

    /// <summary>Name of a workbook's sheet; the first that is shown without it.</summary>
    [FromQuery(Name = "sheet")] public string? Sheet { get; init; }

    /// <summary><c>true</c>: say what would become of every row, and store nothing.</summary>
    [FromQuery(Name = "dry_run")] public string? DryRun { get; init; }

    /// <summary>Sent again with the same key, the same bytes are not processed twice.</summary>
    [FromHeader(Name = "Idempotency-Key")] public string? IdempotencyKey { get; init; }
}

/// <summary>What the request itself must satisfy; the rows have their own checks.</summary>
public sealed class SubmitRequestValidator : AbstractValidator<SubmitRequest>
{
    public SubmitRequestValidator()
    {
        RuleFor(r => r.Kind).Must(k => Codes.TryParse<RowKind>(k, out _)).When(r => r.Kind is not null).OverridePropertyName("kind")
            .WithMessage($"unknown code; it is one of: {string.Join(", ", Codes.All<RowKind>())}");
        RuleFor(r => r.DryRun).Must(d => d is "true" or "false").When(r => r.DryRun is not null).OverridePropertyName("dry_run")
            .WithMessage("is true or false");
        RuleFor(r => r.Mapping).Length(1, 100).When(r => r.Mapping is not null).OverridePropertyName("mapping")
            .WithMessage("has 1 to 100 characters");
        RuleFor(r => r.Sheet).Length(1, 100).When(r => r.Sheet is not null).OverridePropertyName("sheet")
            .WithMessage("has 1 to 100 characters");
        RuleFor(r => r.IdempotencyKey).Length(1, 200).When(r => r.IdempotencyKey is not null).OverridePropertyName("Idempotency-Key")
            .WithMessage("has 1 to 200 characters");
    }
}

/// <summary>What the content type and encoding of a body say of its format.</summary>
public static class ContentTypes
{
    /// <summary>Media type of a workbook (IANA).</summary>
    public const string Xlsx = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

    public const string Ndjson = "application/x-ndjson";

    /// <summary>Media type of HL7 v2 messages, and of their acknowledgements.</summary>
    public const string Hl7V2 = "application/hl7-v2";

    /// <returns>Null for a format or an encoding that is not read here.</returns>
    public static (SubmissionFormat Format, TextEncoding? Encoding)? FormatOf(string? contentType)
    {
        if (contentType is null || !System.Net.Http.Headers.MediaTypeHeaderValue.TryParse(contentType, out var type)) return null;
        SubmissionFormat? known = type.MediaType?.ToLowerInvariant() switch
        {
            MediaTypeNames.Text.Csv => SubmissionFormat.Csv,
            MediaTypeNames.Text.Plain => SubmissionFormat.FixedWidth,
            MediaTypeNames.Application.Json => SubmissionFormat.Json,
            Ndjson => SubmissionFormat.Ndjson,
            Xlsx => SubmissionFormat.Xlsx,
            Hl7V2 => SubmissionFormat.Hl7V2,
            _ => null,
        };
        if (known is not { } format) return null;
        if (type.CharSet is not { } charset || format is SubmissionFormat.Hl7V2 or SubmissionFormat.Xlsx) return (format, null);
        if (DetectEncoding.OfCharset(charset) is not { } encoding) return null;
        return encoding != TextEncoding.Utf8 && format is SubmissionFormat.Json or SubmissionFormat.Ndjson ? null : (format, encoding);
    }

    /// <summary>Packed with gzip or not; null for a coding that is not read, or not for this format.</summary>
    public static bool? IsGzip(string coding, SubmissionFormat format)
    {
        if (coding.Length == 0) return false;
        return coding.Equals("gzip", StringComparison.OrdinalIgnoreCase) && format is not (SubmissionFormat.Xlsx or SubmissionFormat.Hl7V2)
            ? true : null;
    }

    /// <summary>Does the sender of messages ask for the answer every other format gets?</summary>
    public static bool AsksForJson(HttpRequest request) => request.GetTypedHeaders().Accept.Any(
        a => a.MediaType.Equals(MediaTypeNames.Application.Json, StringComparison.OrdinalIgnoreCase));
}
