using System.Security.Claims;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>What can be entered about an infant, as the record offers it: the code in the address, and its words.</summary>
public static class EnterWords
{
    private static readonly RowKind[] Entered =
    [
        RowKind.Diagnosis, RowKind.Intervention, RowKind.Contact, RowKind.Refusal, RowKind.Risk, RowKind.Readmission, RowKind.MedicalDelay,
        RowKind.Transfer, RowKind.Move, RowKind.Death, RowKind.Appointment,
        RowKind.FamilyContact, RowKind.Care,
    ];

    public static IReadOnlyList<(string Code, string Words)> Kinds { get; } = [.. Entered.Select(k => (Codes.Of(k), Of(k)))];

    /// <summary>A birth and a screen have forms of their own.</summary>
    public static bool IsEntered(RowKind kind) => Entered.Contains(kind);

    /// <summary>What is said of a family, and nothing of the child's hearing: whoever calls the family writes it down.</summary>
    public static bool IsOfFamily(RowKind kind) => kind is RowKind.FamilyContact or RowKind.Care;

    /// <summary>Whether somebody is offered to enter a kind.</summary>
    public static bool IsOfferedTo(ClaimsPrincipal user, RowKind kind) =>
        Permissions.Holds(user, IsOfFamily(kind) ? Permissions.EnterFamily : Permissions.SubmitForSite);

    public static string Of(RowKind kind) => kind switch
    {
        RowKind.Birth => "Birth",
        RowKind.Diagnosis => "Diagnostic evaluation",
        RowKind.Intervention => "Early intervention event",
        RowKind.Contact => "Contact with the family",
        RowKind.Refusal => "Refusal, or its end",
        RowKind.Risk => "Risk indicator",
        RowKind.MedicalDelay => "Medical delay",
        RowKind.Transfer => "Transfer to another site",
        RowKind.Move => "Move",
        RowKind.Appointment => "Appointment",
        RowKind.FamilyContact => "Family: new phone, address or person",
        RowKind.Care => "Primary care and insurance",
        RowKind.Screening => "Screen",
        RowKind.Merge => "Another record number of this infant",
        _ => Words.Of((Enum)kind),
    };
}
