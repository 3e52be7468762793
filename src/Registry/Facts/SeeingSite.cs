namespace Registry.Facts;

/// <summary>What is asked, beside that the row stands, before a site it names sees the infant.</summary>
public enum Opening
{
    /// <summary>Nothing.</summary>
    None,

    /// <summary>That the site is no early-intervention program.</summary>
    NoProgram,

    /// <summary>That the site is no such program, and still expects the infant.</summary>
    Expected,

    /// <summary>That the site said it: what the region's own people say is kept under the site that owns the step.</summary>
    OwnWord,
}

/// <summary>A column of a table that names a site, which sees the infant as long as the row opens it.</summary>
/// <param name="Table">The table.</param>
/// <param name="Column">The column.</param>
/// <param name="Asks">What is asked besides.</param>
/// <param name="IsTyped">The table says who entered a row on a page, and in which role.</param>
public sealed record SeeingSite(string Table, string Column, Opening Asks = Opening.None, bool IsTyped = false);
