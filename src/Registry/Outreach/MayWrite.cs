using Registry.Platform;

namespace Registry.Outreach;

/// <summary>The one rule of who may be written to, where and about what, for the statements that ask it.</summary>
/// <remarks>It says of the mother what <see cref="Facts.FamilyNow"/> says in memory; a letter is claimed in one statement, so it stands in
/// the database too. A test sets both beside the written rule.</remarks>
public static class MayWrite
{
    /// <summary>Where the mother of a birth <c>b</c> is written to.</summary>
    public static readonly string NewestAddress = EmbeddedSql.Read(typeof(MayWrite), nameof(NewestAddress));

    public static readonly string Sql = EmbeddedSql.Read(typeof(MayWrite), nameof(MayWrite))
        .Replace("{newest_address}", NewestAddress, StringComparison.Ordinal);
}
