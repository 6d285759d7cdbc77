import { Command, Option } from "commander";
import { CommandError, EXIT } from "../../replay/exit-status.ts";
import { PASSWORD_BYTES } from "./password.ts";
import { ROLES, type Role } from "./role.ts";
import { addToken, removeUser, setUser, UsersMistake, UsersUnwritable } from "./users.ts";

/** `bearing-rise user`: who may sign in at the desk. Passwords come from standard input, never from the command line. */
export function userCommand(): Command {
  const command = new Command("user")
    .description("Adds, changes and removes the people of the desk.")
    .addHelpText("after", "\nExample:\n  bearing-rise user add dispatcher-1 --role act --users users.json < password.txt")
    .exitOverride();
  command
    .command("add <name>")
    .description("Adds a user or changes role and password of one; the password is read from standard input.")
    .requiredOption("--users <file>", "users file")
    .addOption(roleOption().makeOptionMandatory())
    .addHelpText("after", "\nExample:\n  bearing-rise user add dispatcher-1 --role act --users users.json < password.txt")
    .action(async (name: string, { users, role }: { users: string; role: Role }) => {
      const password = await passwordFrom(process.stdin);
      await said(() => setUser(users, name, role, password), `${name} may sign in with the role ${role}.`);
    });
  command
    .command("remove <name>")
    .description("Takes a user out; whoever is signed in under the name is out at once.")
    .requiredOption("--users <file>", "users file")
    .addHelpText("after", "\nExample:\n  bearing-rise user remove dispatcher-1 --users users.json")
    .action(async (name: string, { users }: { users: string }) => said(async () => removeUser(users, name), `${name} is out.`));
  command
    .command("token <name> <token>")
    .description("Makes a token with which a program asks in the name of a user; it is shown once.")
    .requiredOption("--users <file>", "users file")
    .addOption(roleOption().default("view"))
    .addHelpText("after", "\nExample:\n  bearing-rise user token dispatcher-1 wallboard --role view --users users.json > wallboard.token")
    .action(async (name: string, token: string, { users, role }: { users: string; role: Role }) => {
      let made = "";
      await said(async () => {
        made = await addToken(users, name, token, role);
      }, "");
      process.stdout.write(`${made}\n`);
    });
  return command;
}

function roleOption(): Option {
  return new Option("--role <role>", "what the person may do").choices([...ROLES]);
}

async function said(change: () => Promise<void>, words: string): Promise<void> {
  try {
    await change();
  } catch (error) {
    if (error instanceof UsersMistake) throw new CommandError(EXIT.usage, error.message);
    if (error instanceof UsersUnwritable) throw new CommandError(EXIT.output, error.message);
    throw error;
  }
  if (words !== "") process.stdout.write(`${words}\n`);
}

/** All of standard input up to the first line break. */
async function passwordFrom(input: NodeJS.ReadStream): Promise<string> {
  if (input.isTTY) process.stderr.write("Password (it is shown as you type), then Enter and Ctrl-D: ");
  let text = "";
  for await (const piece of input) {
    text += String(piece);
    if (text.length > PASSWORD_BYTES * 2) break;
  }
  return text.split(/\r?\n/)[0] ?? "";
}
