using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class RepeatedRows : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateIndex(
                name: "ix_submission_rows_content",
                table: "submission_rows",
                column: "content",
                filter: "content is not null")
                .Annotation("Npgsql:IndexMethod", "hash");
            migrationBuilder.Sql("create index ix_row_changes_content_before on row_changes using hash ((before -> 'row' -> 'content'))");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("drop index ix_row_changes_content_before");
            migrationBuilder.DropIndex(
                name: "ix_submission_rows_content",
                table: "submission_rows");
        }
    }
}
