using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class LossByRules : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            // Derived: the next run finds them again from the facts, each with the day of the rules.
            migrationBuilder.Sql("delete from loss_findings;");

            migrationBuilder.AddColumn<DateOnly>(
                name: "lost_on",
                table: "loss_findings",
                type: "date",
                nullable: false);

            migrationBuilder.AddColumn<string>(
                name: "recovered_as",
                table: "loss_findings",
                type: "text",
                nullable: true);

            migrationBuilder.CreateIndex(
                name: "ix_submission_rows_discarded_at",
                table: "submission_rows",
                column: "discarded_at",
                filter: "discarded_at is not null");

            migrationBuilder.CreateIndex(
                name: "ix_row_changes_at",
                table: "row_changes",
                column: "at");

            migrationBuilder.CreateIndex(
                name: "ix_loss_findings_lost_on",
                table: "loss_findings",
                column: "lost_on");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_resolved_at",
                table: "held_rows",
                column: "resolved_at",
                filter: "resolved_at is not null");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_submission_rows_discarded_at",
                table: "submission_rows");

            migrationBuilder.DropIndex(
                name: "ix_row_changes_at",
                table: "row_changes");

            migrationBuilder.DropIndex(
                name: "ix_loss_findings_lost_on",
                table: "loss_findings");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_resolved_at",
                table: "held_rows");

            migrationBuilder.DropColumn(
                name: "lost_on",
                table: "loss_findings");

            migrationBuilder.DropColumn(
                name: "recovered_as",
                table: "loss_findings");
        }
    }
}
