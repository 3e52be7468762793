using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class BulkRowSeen : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<long>(
                name: "seen",
                table: "bulk_rows",
                type: "bigint",
                nullable: false,
                defaultValue: 0L);

            // What was chosen before: whatever the row is now.
            migrationBuilder.Sql("""
                update bulk_rows b set seen = coalesce((
                  select max(c.id) from row_changes c where c.submission_id = b.submission_id and c.row_number = b.row_number), 0)
                 where b.state = 'chosen';
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropColumn(
                name: "seen",
                table: "bulk_rows");
        }
    }
}
