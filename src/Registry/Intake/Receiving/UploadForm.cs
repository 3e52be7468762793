using FluentValidation;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Receiving;

/// <summary>What a person states with an uploaded file.</summary>
public sealed class UploadForm
{
    public IFormFile? File { get; set; }
    public string? Kind { get; set; }
    public string? Site { get; set; }

    /// <summary>Name of a workbook's sheet; the first that is shown without it.</summary>
    public string? Sheet { get; set; }

    /// <summary>Name of a column mapping of the site; without it the header decides.</summary>
    public string? Mapping { get; set; }

    /// <summary>The form as what is stated with the file's bytes; it satisfies <see cref="UploadFormValidator"/>.</summary>
    public SentFile Sent(SiteId site, ReceivedBy by, DateTimeOffset now)
    {
        var (format, gzip) = FileNames.FormatOf(File!.FileName)!.Value;
        return new(site, format, by, now)
        {
            DefaultKind = string.IsNullOrEmpty(Kind) ? null : Codes.Parse<RowKind>(Kind),
            FileName = Path.GetFileName(File.FileName),
            Gzip = gzip,
            Sheet = string.IsNullOrWhiteSpace(Sheet) ? null : Sheet,
            Mapping = string.IsNullOrWhiteSpace(Mapping) ? null : Mapping,
        };
    }
}

public sealed class UploadFormValidator : AbstractValidator<UploadForm>
{
    public UploadFormValidator()
    {
        RuleFor(f => f.File).NotNull().WithMessage(UploadWords.ChooseFile);
        RuleFor(f => f.File!.Length).GreaterThan(0).When(f => f.File is not null).OverridePropertyName("File")
            .WithMessage(UploadWords.EmptyFile);
        RuleFor(f => f.File!.FileName).Must(n => FileNames.FormatOf(n) is not null).When(f => f.File is not null)
            .OverridePropertyName("File").WithMessage(UploadWords.Endings);
        RuleFor(f => f.Kind).Must(k => Codes.TryParse<RowKind>(k, out _)).When(f => !string.IsNullOrEmpty(f.Kind))
            .WithMessage(UploadWords.ChooseKind);
    }
}

/// <summary>What the upload page says.</summary>
public static class UploadWords
{
    public const string ChooseFile = "Choose a file.";
    public const string EmptyFile = "The file is empty.";
    public const string Endings =
        "The file's name must end in .csv, .xlsx, .json, .ndjson, .hl7 or .fwf; .gz may follow all but .xlsx and .hl7.";
    public const string ChooseKind = "Choose what the rows report.";
    public const string ChooseSite = "Choose the site the rows come from.";

    /// <summary>Why nothing of a file was stored.</summary>
    public static string Of(NotStored why, IntakeOptions limits) => why switch
    {
        NotStored.TooLarge => $"The file is larger than {Mebibytes(limits.MaxBytes)} MiB. Split it.",
        NotStored.StorageFull => $"Your site has stored the {Mebibytes(limits.BytesPerSite)} MiB it may. Nothing of this file was stored; "
            + "what was acknowledged is kept. Ask the registry for more.",
        NotStored.TooLargeToTry => $"A file of more than {Mebibytes(limits.DryRunBytes)} MiB cannot be tried. Try a part of it.",
        NotStored.SlowedDown => "Many card ids of this site led to no infant today, so nothing more is taken in for a while. Check how the "
            + "cards are written, or ask the program's office; nothing of the file was stored.",
        NotStored.KeyInUse => "The same file is being received at this moment. Send it again in a while.",
        _ => "Nothing of the file was stored. Send it again.",
    };

    public static long Mebibytes(long bytes) => bytes / 1_048_576;

    /// <summary>How much of a file was tried.</summary>
    public static string Tried(Trial trial) => trial.RowsTried < trial.Rows
        ? $"The file is sound and has {Words.Count(trial.Rows, "row")}; the first {Words.Count(trial.RowsTried)} were tried. "
            + "A row among them may be about an infant whose birth stands further down."
        : $"{Words.Count(trial.Rows, "row")}, as they would be taken at this moment.";
}
