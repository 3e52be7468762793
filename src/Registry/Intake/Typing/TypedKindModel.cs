using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>A form whose fields are the columns of one kind of row.</summary>
public abstract class TypedKindModel(
    TypeRows type, CorrectFact correct, OpenRecord records, SiteChoices choices, FindSite sites, Viewer viewer, AsOf asOf)
    : TypingModel(type, correct, records, choices, sites, viewer, asOf)
{
    private readonly SiteChoices _choices = choices;

    [FromRoute(Name = "kind")] public string? KindCode { get; set; }

    public RowKind Kind { get; private set; }
    public string Heading => (Corrected is null ? "" : "Correct: ") + EnterWords.Of(Kind);
    public IReadOnlyList<Site> Everywhere { get; private set; } = [];

    /// <summary>The columns in the order they are asked for.</summary>
    public virtual IReadOnlyList<Field> Columns => [.. CheckRow.FieldsOf(Kind)];

    /// <summary>The kind the address names; null when this is not its form.</summary>
    protected abstract RowKind? Asked { get; }

    protected override async Task<bool> FindAsync(CancellationToken ct)
    {
        if (Asked is not { } kind) return false;
        Kind = kind;
        if (Columns.Any(f => TypingWords.InputOf(f) == InputKind.Place))
            Everywhere = [.. (await _choices.ActiveAsync(ct))
                .Where(s => kind != RowKind.Transfer || s.Kind != SiteKind.InterventionProgram)];
        return true;
    }

    protected override RowKind? CorrectedKind => EnterWords.IsOfFamily(Kind) ? null : Kind;

    protected override IReadOnlyList<TypedRow> Rows(SiteId site)
    {
        // A birth that is corrected says itself who it is: what was left empty is not put back.
        var columns = new Dictionary<Field, string>(Who(site).ExceptBy(Columns, w => w.Key));
        foreach (var field in Columns)
            if (Form.Of(field) is { Length: > 0 } stated) columns[field] = TypingWords.Sent(field, stated);
        return [new(Kind, columns)];
    }
}
